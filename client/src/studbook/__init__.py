"""Studbook: the client, the wire types and the command."""
