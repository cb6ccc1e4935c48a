"""The client for ordinary programs: each method waits for its answer.

What is sent and when it is repeated is decided in `studbook.core`; here it is only done.
"""

from studbook.blocking.access import Access
from studbook.blocking.answers import Answers
from studbook.blocking.around_scales import AroundScales
from studbook.blocking.book import Book
from studbook.blocking.exports import Exports
from studbook.blocking.records import Records
from studbook.blocking.working import Working


class Studbook(Book, Records, Access, Answers, AroundScales, Working, Exports):
    """The book of a team's setups, kept by a service.

    A reference (`ref`) names a revision: `7/baseline` (the sheet's tip), `7/baseline~2` (two first parents back),
    `3f9a1c` (an id or the beginning of one), `3f9a1c~1`. Every method may raise a `StudbookError`: `RefusedError`
    and its subclasses when the service says no, `ConnectionFailedError` and `DeadlineError` when it does not answer.

    Args:
        url: the service's address, such as `http://127.0.0.1:8710`.
        token: the bearer's token.
        timeout_s: total time for one method, repeats included, seconds.

    Example::
        with Studbook("http://127.0.0.1:8710", token) as book:
            pulled = book.pull("7/baseline")
            print(*book.what_if("7/baseline", {"setup.front.rf.upper_stud.length_in": 1.7}).headline)
    """
