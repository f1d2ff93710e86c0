"""Keeping a photograph, and taking one away again before the owner has signed."""

import logging
from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from hashlib import sha256
from typing import IO
from uuid import uuid4

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.intake.drafts.models import Draft
from service_center.intake.drafts.queries import held_open
from service_center.intake.photographs.decoding import NotKept, Picture, Refusal, written_anew
from service_center.intake.photographs.models import Photograph
from service_center.intake.photographs.queries import MOST_PHOTOGRAPHS, Size, file_of

log = logging.getLogger(__name__)


def add_photograph(draft: Draft, file: IO[bytes], *, size: int, by: Staff, at: datetime) -> Photograph:
    """Keep a photograph behind those that are there. `size` in bytes. Raises NotKept or DraftOver.

    A picture that the draft has is that photograph: a file is sent once when it is chosen, and again by whoever goes on
    before it has arrived. The picture is decoded before anything is locked; its files lie on the disk before its row
    says so.
    """
    picture = written_anew(file, size=size)
    key, digest = uuid4().hex, sha256(picture.full).hexdigest()
    _write(key, picture)
    try:
        with transaction.atomic():
            held = held_open(draft)
            same = held.photographs.filter(sha256=digest).first()
            if same is None:
                _must_have_room(held)
                return Photograph.objects.create(
                    draft=draft,
                    key=key,
                    taken_at=at,
                    taken_by=by,
                    width=picture.width,
                    height=picture.height,
                    size=len(picture.full),
                    sha256=digest,
                )
    except BaseException:
        delete_files([key])
        raise
    delete_files([key])
    return same


def remove_photograph(draft: Draft, key: str, *, by: Staff) -> None:
    """Take a photograph away for good. One that is not there stays away. Raises DraftOver."""
    with transaction.atomic():
        gone, _rows = held_open(draft).photographs.filter(key=key).delete()
        if not gone:
            return
        leave_trail(by=by, deed="remove_photograph", subject=f"piece:{draft.piece.serial}", before={"photograph": key})
        transaction.on_commit(lambda: delete_files([key]), robust=True)


def delete_files(keys: Iterable[str]) -> None:
    """Delete the files of photographs; those that are not there are no fault."""
    for key in keys:
        for size in Size:
            default_storage.delete(file_of(key, size))


def _must_have_room(draft: Draft) -> None:
    if draft.photographs.count() >= MOST_PHOTOGRAPHS:
        raise NotKept(Refusal.TOO_MANY)


def _write(key: str, picture: Picture) -> None:
    """Both files, or none. Raises NotKept where the disk does not take them."""
    try:
        for size, content in ((Size.FULL, picture.full), (Size.SMALL, picture.small)):
            default_storage.save(file_of(key, size), ContentFile(content))
    except OSError as error:
        log.exception("a photograph could not be written")
        with suppress(OSError):
            delete_files([key])
        raise NotKept(Refusal.NOT_WRITTEN) from error
