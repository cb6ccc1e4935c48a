"""What an answer names and other operations take: the description's links (OpenAPI 3.1, Link Object)."""

import re
from collections.abc import Iterator, Mapping
from typing import Any, Final

from studbook.wire.operations import OPERATIONS
from studbook.wire.operations.row import Operation

Json = dict[str, Any]

_TAG: Final = {"If-Match": "$response.header.ETag"}
_CAR: Final = {"car": "$response.body#/car"}
_SHEET: Final = {"car": "$response.body#/car", "sheet": "$response.body#/sheet"}
_PUSHED: Final = {"car": "$response.body#/revision/car", "sheet": "$response.body#/revision/sheet"}

NAMED: Final[Mapping[str, tuple[Mapping[str, str], ...]]] = {
    "list_cars": ({"car": "$response.body#/items/0/car"},),
    "add_car": (_CAR | _TAG,),
    "read_car": (_CAR | _TAG,),
    "change_car": (_CAR | _TAG,),
    "list_sheets": ({"car": "$response.body#/items/0/car", "sheet": "$response.body#/items/0/sheet"},),
    "read_sheet": (_SHEET | _TAG, {"ref": "$response.body#/tips/0/id"}),
    "push_revision": (_PUSHED | _TAG, {"ref": "$response.body#/revision/id"}),
    "add_member": ({"member": "$response.body#/id"},),
    "list_members": ({"member": "$response.body#/items/0/id"},),
    "make_token": ({"token": "$response.body#/about/id"},),
    "list_tokens": ({"token": "$response.body#/items/0/id"},),
    "make_share": ({"share": "$response.body#/share/id"},),
    "list_shares": ({"share": "$response.body#/items/0/id"},),
    "list_peers": ({"peer": "$response.body#/items/0/name"},),
}
"""By operation, what its answer names together, each with where it is found."""


def links(operation: Operation[Any]) -> Json:
    """Give an operation's links by the operation they lead to.

    Example:
        >>> links(next(each for each in OPERATIONS if each.name == "list_peers"))
        {'sync_peer': {'operationId': 'sync_peer', 'parameters': {'peer': '$response.body#/items/0/name'}}}
    """
    found = (each for named in NAMED.get(operation.name, ()) for each in _from(named))
    return {link["operationId"]: link for link in found}


def _from(named: Mapping[str, str]) -> Iterator[Json]:
    names = named.keys() - _TAG
    for target in OPERATIONS:
        if names == set(re.findall(r"\{(\w+)\}", target.path)):
            taken = names | ({*_TAG} & named.keys() & {*target.sends})
            parameters = {name: where for name, where in named.items() if name in taken}
            if "ref" in named and "since" in target.query.__struct_fields__:
                parameters["since"] = named["ref"]
            yield {"operationId": target.name, "parameters": parameters}
        elif "ref" in named and target.body is not None and "revision" in target.body.__struct_fields__:
            members = {"revision", "source"} & {*target.body.__struct_fields__}
            body = {**(target.example or {}), **dict.fromkeys(sorted(members), named["ref"])}
            yield {"operationId": target.name, "requestBody": body}
