"""Make the Word templates that are shipped: `python -m templates.maker`."""
