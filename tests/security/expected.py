"""Who gets what: the status of every operation for every kind of bearer, written down.

All requests are right in all else, and about the things of one team. HEAD is answered as GET is, OPTIONS with 204, and
every other method with 405, whoever asks.
"""

from collections.abc import Iterator

from security.teams import KINDS
from studbook.wire.records import KINDS as RECORDS

EXPECTED = """
operation                                       none malformed expired revoked viewer crew chief node stranger share
GET /v1/me                                       401       401     401     401    200  200   200  200      200   200
GET /v1/members                                  401       401     401     401    403  403   200  403      200   403
POST /v1/members                                 401       401     401     401    403  403   201  403      201   403
PATCH /v1/members/{member}                       401       401     401     401    403  403   200  403      404   403
GET /v1/tokens                                   401       401     401     401    200  200   200  200      200   403
POST /v1/tokens                                  401       401     401     401    403  403   201  403      404   403
DELETE /v1/tokens/{token}                        401       401     401     401    404  200   200  404      404   403
GET /v1/shares                                   401       401     401     401    403  403   200  403      200   403
POST /v1/shares                                  401       401     401     401    403  403   201  403      404   403
DELETE /v1/shares/{share}                        401       401     401     401    403  403   200  403      404   403
GET /v1/audit                                    401       401     401     401    403  403   200  403      200   403
PUT /v1/cars/{car}/sheets/{sheet}/protection     401       401     401     401    403  403   200  403      404   403
DELETE /v1/cars/{car}/sheets/{sheet}/protection  401       401     401     401    403  403   200  403      404   403
GET /v1/cars                                     401       401     401     401    200  200   200  200      200   200
POST /v1/cars                                    401       401     401     401    403  201   201  403      201   403
GET /v1/cars/{car}                               401       401     401     401    200  200   200  200      404   200
PATCH /v1/cars/{car}                             401       401     401     401    403  200   200  403      404   403
GET /v1/cars/{car}/sheets                        401       401     401     401    200  200   200  200      404   200
GET /v1/cars/{car}/sheets/{sheet}                401       401     401     401    200  200   200  200      404   200
POST /v1/cars/{car}/sheets/{sheet}/revisions     401       401     401     401    403  201   201  403      404   403
POST /v1/cars/{car}/sheets/{sheet}/merge         401       401     401     401    403  201   201  403      404   403
GET /v1/cars/{car}/sheets/{sheet}/history        401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}                          401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}/document                 401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}/changes                  401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}/front                    401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}/rear                     401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}/joints                   401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}/damping                  401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}/loads                    401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}/sensitivity              401       401     401     401    200  200   200  200      404   200
GET /v1/revisions/{ref}/work                     401       401     401     401    200  200   200  403      404   403
GET /v1/revisions/{ref}/effects                  401       401     401     401    200  200   200  200      404   200
POST /v1/what-if                                 401       401     401     401    200  200   200  403      404   403
POST /v1/cornering                               401       401     401     401    200  200   200  403      404   403
POST /v1/attitude                                401       401     401     401    200  200   200  403      404   403
POST /v1/after-race                              401       401     401     401    200  200   200  403      404   403
POST /v1/returned                                401       401     401     401    200  200   200  403      404   403
GET /v1/checks/{car}/{check}/findings            401       401     401     401    200  200   200  403      404   403
GET /v1/scale-sessions/{car}/{session}/weights   401       401     401     401    200  200   200  403      404   403
POST /v1/searches/studs                          401       401     401     401    200  200   200  403      404   403
POST /v1/searches/carry-over                     401       401     401     401    200  200   200  403      404   403
POST /v1/searches/perches                        401       401     401     401    200  200   200  403      404   403
POST /v1/exchange                                401       401     401     401    403  403   200  200      200   403
GET /v1/export                                   401       401     401     401    200  200   200  403      200   403
GET /v1/export/{table}                           401       401     401     401    200  200   200  403      200   403
GET /v1/reports/season                           401       401     401     401    200  200   200  403      200   403
GET /v1/peers                                    401       401     401     401    200  200   200  200      200   403
POST /v1/peers/{peer}/sync                       401       401     401     401    403  200   200  403      404   403
GET /v1/shelf                                    401       401     401     401    200  200   200  200      200   403
GET /v1/jobs                                     401       401     401     401    200  200   200  403      200   403
GET /livez                                       200       200     200     200    200  200   200  200      200   200
GET /readyz                                      200       200     200     200    200  200   200  200      200   200
GET /metrics                                     200       200     200     200    200  200   200  200      200   200
GET /openapi.json                                200       200     200     200    200  200   200  200      200   200
GET /docs                                        200       200     200     200    200  200   200  200      200   200
GET /docs/{file}                                 200       200     200     200    200  200   200  200      200   200
"""

OF_RECORDS = """
GET {path}                                       401       401     401     401    200  200   200  200      200   403
POST {path}                                      401       401     401     401    403  409   409  403    {new}   403
GET {one}                                        401       401     401     401    200  200   200  200      404   403
PATCH {one}                                      401       401     401     401    403  200   200  403      404   403
GET {one}/history                                401       401     401     401    200  200   200  200      404   403
"""
"""Of each kind of record. It is there already in the team's book; in another's it is new, or speaks of a car or event
that is not there."""

STANDING_ALONE = {"event", "part", "rules", "shop_times", "tolerances"}
"""Kinds that speak of nothing else."""


def rows() -> Iterator[str]:
    """Give every row."""
    yield from EXPECTED.strip().splitlines()[1:]
    for kind in RECORDS.values():
        one = "/".join([kind.path, *(f"{{{step}}}" for step in kind.steps)])
        new = 201 if kind.name in STANDING_ALONE else 422
        yield from OF_RECORDS.format(path=kind.path, one=one, new=new).strip().splitlines()


def table() -> dict[str, dict[str, int]]:
    """Give the statuses by operation and kind of bearer."""
    assert tuple(EXPECTED.split("\n")[1].split()[1:]) == KINDS
    found = {}
    for row in rows():
        method, path, *statuses = row.split()
        found[f"{method} {path}"] = dict(zip(KINDS, map(int, statuses), strict=True))
    return found
