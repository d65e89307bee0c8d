"""The pages: thin views that read a form, call a service and show what came back."""
