"""The process that plays and listens while the screen watches."""
