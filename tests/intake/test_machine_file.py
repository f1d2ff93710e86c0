"""Readings at the counter out of a timing machine's file, as the house set it up."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from service_center.intake.models import DropOff
from service_center.measurements.models import MachineFile
from service_center.measurements.queries import readings_of
from tests.factories import PieceFactory, StaffFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def machine() -> MachineFile:
    return MachineFile.objects.create(
        name="Counter 1", position_column="Pos", rate_column="Rate", beat_error_column="BE",
        whole_beat_error=True, position_words={"dial up": "CH"},
    )  # fmt: skip


@pytest.fixture
def counter(counter_of: Callable[[Client], Any]) -> Any:
    piece = PieceFactory()
    client = Client()
    client.force_login(StaffFactory(role="boutique", boutique=piece.boutique.code))
    at = counter_of(client)
    at.begin(piece)
    at.say_all()
    return at


def fill(counter: Any, machine: MachineFile, content: bytes, **typed: str) -> str:
    file = SimpleUploadedFile("today.csv", content)
    answer = counter.client.post(
        counter.at("readings"), {"fill": "file", "machine_file": machine.pk, "file": file, **typed}, follow=True
    )
    page: str = answer.content.decode()
    return page


def test_a_file_fills_the_grid_and_its_readings_are_kept_with_the_drop_off(counter: Any, machine: MachineFile) -> None:
    page = fill(counter, machine, b"Pos,Rate,BE\ndial up,4.04,0.8\n", **{"full-6H-rate": "-2"})
    assert 'name="full-CH-rate" value="4.0"' in page
    assert 'name="full-6H-rate" value="-2"' in page  # what was typed stays
    assert '<option value="whole" selected>' in page
    counter.sign()
    sheet = DropOff.objects.get().sheet
    assert sheet
    assert [(one.position, one.rate) for one in readings_of(sheet)] == [("CH", Decimal("4.0")), ("6H", Decimal(-2))]
    assert sheet.instrument == "Counter 1"


def test_a_file_that_cannot_be_read_is_refused_by_line_and_nothing_is_lost(counter: Any, machine: MachineFile) -> None:
    page = fill(counter, machine, b"Pos,Rate,BE\nsideways,4.04,1.8\n", **{"full-CH-rate": "5"})
    assert "today.csv:2:Pos: &quot;sideways&quot; is no position" in page
    assert 'name="full-CH-rate" value="5"' in page


def test_what_a_file_cannot_have_measured_is_refused_as_if_typed(counter: Any, machine: MachineFile) -> None:
    page = fill(counter, machine, b"Pos,Rate,BE\ndial up,4000,0.8\n")
    assert "today.csv:2" in page
    assert 'full-CH-rate" value=' not in page


def test_without_a_kind_of_file_nothing_is_offered(counter: Any) -> None:
    assert "Fill from this file" not in counter.see("readings")
