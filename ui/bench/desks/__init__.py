"""One desk a subject: each takes the bench's commands and events of its subject and changes its slice."""
