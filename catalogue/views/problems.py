"""What is said when a page cannot be shown: always a sentence, never a bare code."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

NOT_HERE = "There is no page at this address. It may have been typed wrong, or moved."
NO_SUCH_ROW = "There is nothing of that kind on record any more."
NOT_ALLOWED = "This part of the yard is not among your duties. Ask the owner if it should be."


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    context = {"sentence": _sentence_of_404(exception)}
    return render(request, "404.html", context, status=404)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    context = {"sentence": _text(exception, PermissionDenied) or NOT_ALLOWED}
    return render(request, "403.html", context, status=403)


def _sentence_of_404(exception: Exception) -> str:
    """Our own sentence, or one for Django's own two kinds: no such address, no such row."""
    text = _text(exception, Http404)
    if not text:
        return NOT_HERE
    return NO_SUCH_ROW if text.endswith("matches the given query.") else text


def _text(exception: Exception, kind: type[Exception]) -> str:
    said = exception.args[0] if isinstance(exception, kind) and exception.args else ""
    return said if isinstance(said, str) else ""
