"""Sans-I/O decoders: `feed(bytes) -> list[Indication | Fault]`, no port, clock, thread or log in them."""
