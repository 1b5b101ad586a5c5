from django.http import HttpRequest, QueryDict

#: Lines of a paged list.
PER_PAGE = 50


def posted(request: HttpRequest) -> QueryDict | None:
    """What a form binds to: what was posted, even when that is nothing."""
    return request.POST if request.method == "POST" else None
