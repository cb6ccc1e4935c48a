"""What travels between client and service: msgspec Structs, defined once, with units and bounds."""
