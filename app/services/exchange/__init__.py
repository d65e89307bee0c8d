"""Tables that come in and go out."""
