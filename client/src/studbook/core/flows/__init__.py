"""One flow for each method of the clients, by subject. Generators: nothing is sent here.

`studbook.blocking` and `studbook.asynchronous` make methods of them by a table of names each. The methods are real
functions with the flow's signature and text: `help`, editors and type checkers show them, and a subclass or a mock
takes their place like any other's.
"""

from studbook.core.flows import access, answers, book, export, peers, pushing, records, scales, work

__all__ = ["access", "answers", "book", "export", "peers", "pushing", "records", "scales", "work"]
