"""The one place where threads meet: the controller, its desks, its workers."""
