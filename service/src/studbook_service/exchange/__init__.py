"""Two books made one: what to send, what to take, what to refuse. Knows no database and no network.

The decisions work on the small `Book` protocol; a driver beside them carries the bytes.
"""
