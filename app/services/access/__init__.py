"""Who may come in: browsers, the passphrase of a second device, the home network."""
