"""The bench controller, the screens, the text bench and the command line."""
