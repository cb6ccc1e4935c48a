"""What the client does, without doing any of it: calls, references, retries. No I/O, no clock of its own."""
