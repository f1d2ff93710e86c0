"""Who is signed in, behind a door that is for staff."""

from django.http import HttpRequest

from service_center.access.models import Staff


def staff_of(request: HttpRequest) -> Staff:
    """The member of staff who asks. Only for pages whose door (rules.py) lets nobody else in."""
    assert isinstance(request.user, Staff)  # the door let nobody else in
    return request.user
