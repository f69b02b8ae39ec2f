"""The door of sensors: records in by POST, an answer in plain sentences out, all as JSON.

No session and no cookie are looked at here; the token is all that opens it.
"""

import json
from typing import Any, NoReturn

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from inventory import sensors
from inventory.sensors import Refused, Taken

MOST_BYTES = 1024 * 1024


@csrf_exempt
@login_not_required
def air_api(request: HttpRequest) -> JsonResponse:
    """One record or a list of them, of the token's own place (see README, Sensors)."""
    if request.method != "POST":
        refusal = Refused(405, "Records are sent by POST.")
        return _refusal(refusal, {"Allow": "POST"})
    now = timezone.now()
    try:
        sensor = sensors.admit(request.headers.get("Authorization", ""), now)
        return _answer(sensors.take(sensor, _sent(request), now))
    except Refused as refusal:
        return _refusal(refusal, _headers(refusal))


def _sent(request: HttpRequest) -> Any:
    if request.content_type != "application/json":
        raise Refused(415, "Send JSON, as “Content-Type: application/json”.")
    length = request.META.get("CONTENT_LENGTH") or ""
    if length.isdigit() and int(length) > MOST_BYTES:
        raise Refused(413, "More than 1 MB at once: send it in parts.")
    try:
        return json.loads(request.body, parse_constant=_no_number)
    except (ValueError, RecursionError) as problem:
        raise Refused(422, "That is not JSON that can be read.") from problem


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")


def _answer(taken: Taken) -> JsonResponse:
    """200 where anything was taken or known, 422 where every record was refused."""
    told = taken.added + taken.known + taken.differing
    return JsonResponse(
        {
            "said": taken.in_words,
            "added": taken.added,
            "known": taken.known,
            "differing": taken.differing,
            "refused": [{"index": index, "reason": reason} for index, reason in taken.refused],
        },
        status=200 if told else 422,
    )


def _refusal(refusal: Refused, headers: dict[str, str]) -> JsonResponse:
    return JsonResponse({"said": refusal.sentence}, status=refusal.status, headers=headers)


def _headers(refusal: Refused) -> dict[str, str]:
    if refusal.status == 401:
        return {"WWW-Authenticate": "Bearer"}
    if refusal.retry_after_s is not None:
        return {"Retry-After": str(refusal.retry_after_s)}
    return {}
