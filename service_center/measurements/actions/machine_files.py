"""Keeping how the files of a timing machine are read."""

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.measurements.models import MachineFile
from service_center.measurements.rules.machine_file import FileMapping


class NameTakenError(ValueError):
    """Another mapping has that name."""


@transaction.atomic
def keep_machine_file(
    known: MachineFile | None, name: str, mapping: FileMapping, *, whole_beat_error: bool, by: Staff | None
) -> MachineFile:
    """Keep a mapping, new (`known` None) or changed. Raises NameTakenError."""
    others = MachineFile.objects.exclude(pk=known.pk) if known else MachineFile.objects.all()
    if others.filter(name=name).exists():
        raise NameTakenError(name)
    kept = known or MachineFile()
    kept.name, kept.whole_beat_error = name, whole_beat_error
    for field in mapping.__dataclass_fields__:
        value = getattr(mapping, field)
        setattr(kept, field, dict(value) if field.endswith("_words") else value)
    kept.save()
    leave_trail(by=by, deed="keep_machine_file", subject=f"machine_file:{kept.pk}", after={"name": name})
    return kept


@transaction.atomic
def drop_machine_file(kept: MachineFile, *, by: Staff | None) -> None:
    """Take a mapping away; sheets that were read with it stay as they are."""
    leave_trail(by=by, deed="drop_machine_file", subject=f"machine_file:{kept.pk}", before={"name": kept.name})
    kept.delete()
