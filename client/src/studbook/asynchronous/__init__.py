"""The client for asynchronous programs: the methods of `Studbook`, awaited.

What is sent and when it is repeated is decided in `studbook.core`; here it is only done.
"""

from studbook.asynchronous.access import Access
from studbook.asynchronous.answers import Answers
from studbook.asynchronous.around_scales import AroundScales
from studbook.asynchronous.book import Book
from studbook.asynchronous.exports import Exports
from studbook.asynchronous.records import Records
from studbook.asynchronous.working import Working


class AsyncStudbook(Book, Records, Access, Answers, AroundScales, Working, Exports):
    """The book of a team's setups, kept by a service; the same methods as `Studbook`, awaited.

    Args:
        url: the service's address, such as `http://127.0.0.1:8710`.
        token: the bearer's token.
        timeout_s: total time for one method, repeats included, seconds.

    Example::
        async with AsyncStudbook("http://127.0.0.1:8710", token) as book:
            print((await book.pull("7/baseline")).document())
    """
