"""The squareness core: numpy and the standard library, no device and no screen."""
