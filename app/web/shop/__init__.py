"""Settings, and lists to take away."""
