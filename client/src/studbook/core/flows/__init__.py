"""One flow for each method of the clients, by subject. Generators: nothing is sent here.

`studbook.blocking` and `studbook.asynchronous` make methods of them, with these signatures and these texts.
"""

from studbook.core.flows import access, answers, book, export, peers, pushing, records, scales, work

__all__ = ["access", "answers", "book", "export", "peers", "pushing", "records", "scales", "work"]
