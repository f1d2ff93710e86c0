"""Photographs: written anew, upright, bare of everything but pixels, bounded, private; what is none is refused by name."""

import io
import random
import re
import struct
import zlib
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageChops, ImageOps
from PIL.ExifTags import IFD, Base

from service_center.book.models import Owner
from service_center.intake.drafts.queries import DraftOver
from service_center.intake.models import DropOff, Photograph
from service_center.intake.photographs.actions import add_photograph, remove_photograph
from service_center.intake.photographs.decoding import NotKept, Refusal, written_anew
from service_center.intake.photographs.queries import MOST_PHOTOGRAPHS, Size, content_of, file_of, photographs_of_owner
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory
from tests.pictures import jpeg

# The library warns of files that we refuse by ourselves; here, as in service, a warning stops nothing.
pytestmark = [
    pytest.mark.filterwarnings("ignore::UserWarning"),
    pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning"),
]

NOW = datetime(2026, 3, 2, 10, 30, tzinfo=UTC)


def kept(content: bytes):
    return written_anew(io.BytesIO(content), size=len(content))


def opened(content: bytes) -> Image.Image:
    return Image.open(io.BytesIO(content))


def colours(image: Image.Image) -> tuple[str, str]:
    """What is in the middle of the left half, and of the right."""
    found = [image.convert("RGB").getpixel((image.width * part // 4, image.height // 2)) for part in (1, 3)]
    return tuple("red" if red > blue else "blue" for red, _green, blue in found)  # type: ignore[return-value]


def told(**tags) -> bytes:
    """What a camera writes beside the pixels: where it was, whose it is, how it was held."""
    exif = Image.Exif()
    exif[Base.Make], exif[Base.Artist] = "Secret Maker", "Ada Winter"
    exif[Base.Orientation] = tags.get("held", 1)
    exif.get_ifd(IFD.GPSInfo)[1] = "N"
    exif.get_ifd(IFD.GPSInfo)[2] = (51.0, 30.0, 0.0)
    return exif.tobytes()


def png_saying(width: int, height: int) -> bytes:
    """A PNG whose header names a size; nearly nothing comes after it."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 4096))
        + chunk(b"IEND", b"")
    )


# the pixels and nothing else


def test_nothing_but_the_pixels_is_kept():
    content = jpeg(exif=told(), comment=b"taken at home", icc_profile=b"\0" * 200) + b"<script>trailing()</script>"
    for name in (b"Secret Maker", b"Ada Winter", b"taken at home", b"trailing"):
        assert name in content
    for mine in (kept(content).full, kept(content).small):
        for name in (b"Secret", b"Ada", b"home", b"trailing", b"Exif", b"ICC_PROFILE"):
            assert name not in mine
        assert not opened(mine).getexif()
        assert set(opened(mine).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize(
    ("held", "upright", "seen"),
    [(1, (80, 60), ("red", "blue")), (2, (80, 60), ("blue", "red")), (3, (80, 60), ("blue", "red")), (6, (60, 80), None), (8, (60, 80), None)],
)  # fmt: skip
def test_a_photograph_is_turned_upright(held, upright, seen):
    image = opened(kept(jpeg(exif=told(held=held))).full)
    assert image.size == upright
    if seen:
        assert colours(image) == seen


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "JPEG"])
@pytest.mark.parametrize("mode", ["RGB", "L", "P", "RGBA", "CMYK", "1"])
def test_every_kind_of_picture_becomes_a_plain_jpeg(kind, mode):
    if (kind, mode) in {("PNG", "CMYK"), ("WEBP", "CMYK"), ("JPEG", "RGBA"), ("JPEG", "P")}:
        mode = "RGB"
    out = io.BytesIO()
    Image.new(mode, (40, 30)).save(out, kind)
    image = opened(kept(out.getvalue()).full)
    assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (40, 30))


@pytest.mark.parametrize("held", range(1, 9))
def test_every_way_of_holding_a_camera_is_set_right_as_the_library_would(held):
    content = jpeg((40, 32), exif=told(held=held))
    mine, theirs = opened(kept(content).full), ImageOps.exif_transpose(opened(content))
    assert mine.size == theirs.size
    assert ImageChops.difference(mine, theirs).convert("L").getextrema()[1] < 40


def test_what_could_be_seen_through_is_white():
    out = io.BytesIO()
    Image.new("RGBA", (8, 8), (255, 0, 0, 0)).save(out, "PNG")
    assert min(opened(kept(out.getvalue()).full).getpixel((4, 4))) > 250


def test_the_long_side_is_bounded_and_small_pictures_are_not_blown_up():
    large = kept(jpeg((3000, 1000)))
    assert (large.width, large.height) == (2000, 667)
    assert opened(large.small).size == (480, 160)
    assert kept(jpeg((30, 20))).width == 30


# what is refused, and why (design/reliability.md, F19)

CORPUS = {
    "nothing": (b"", Refusal.EMPTY),
    "a text": (b"no photograph", Refusal.NO_PHOTOGRAPH),
    "a drawing": (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", Refusal.NO_PHOTOGRAPH),
    "a page": (b"<html><script>alert(1)</script>", Refusal.NO_PHOTOGRAPH),
    "an archive": (b"PK\x03\x04" + b"\0" * 100, Refusal.NO_PHOTOGRAPH),
    "PostScript": (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n", Refusal.NO_PHOTOGRAPH),
    "a GIF": (b"GIF89a" + b"\x01\0\x01\0\x80\0\0\0\0\0\xff\xff\xff,\0\0\0\0\x01\0\x01\0\0\x02\x02D\x01\0;", Refusal.NO_PHOTOGRAPH),
    "a HEIC": (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 200, Refusal.HEIC),
    "an AVIF": (b"\0\0\0\x1cftypavif\0\0\0\0avifmif1miaf" + b"\0" * 200, Refusal.HEIC),
    "a film": (b"\0\0\0\x18ftypisom\0\0\0\0isommp41" + b"\0" * 200, Refusal.NO_PHOTOGRAPH),
    "100 megapixels in a few bytes": (png_saying(10_000, 10_000), Refusal.TOO_MANY_PIXELS),
    "200 megapixels": (png_saying(20_000, 10_000), Refusal.TOO_MANY_PIXELS),
    "21 megapixels": (png_saying(21_000, 1_000), Refusal.TOO_MANY_PIXELS),
    "a picture cut off": (jpeg((400, 300))[:1200], Refusal.BROKEN),
    "a PNG without its pixels": (png_saying(4_000, 4_000), Refusal.BROKEN),
    "a JPEG header alone": (b"\xff\xd8\xff\xe0\0\x10JFIF", Refusal.NO_PHOTOGRAPH),
}  # fmt: skip


@pytest.mark.parametrize("name", CORPUS)
def test_what_is_no_photograph_is_refused_with_its_reason(name):
    content, because = CORPUS[name]
    with pytest.raises(NotKept) as refused:
        kept(content)
    assert refused.value.because is because


def test_a_file_that_is_too_large_is_refused_before_it_is_opened():
    with pytest.raises(NotKept) as refused:
        written_anew(io.BytesIO(b""), size=15_000_001)
    assert refused.value.because is Refusal.TOO_LARGE


@given(seed=st.integers(), cut=st.integers(0, 4000), flips=st.integers(0, 30))
def test_a_damaged_photograph_is_kept_anew_or_refused_and_never_breaks_the_counter(seed, cut, flips):
    dice, content = random.Random(seed), bytearray(jpeg((200, 150), exif=told()))
    for _ in range(flips):
        content[dice.randrange(len(content))] = dice.randrange(256)
    damaged = bytes(content[: max(1, len(content) - cut)])
    try:
        assert opened(kept(damaged).full).format == "JPEG"
    except NotKept as refused:
        assert refused.because in Refusal


# at the counter


@pytest.fixture
def here():
    return BoutiqueFactory(code="HARROW", name="Harrowmere")


@pytest.fixture
def begun(signed_in, counter_of, here):
    counter = counter_of(signed_in("boutique", here.code))
    counter.begin(PieceFactory(serial="FH21-000123", boutique=here, owner=OwnerFactory(name="Ada Winter")))
    return counter


@pytest.fixture
def own_folder(settings, tmp_path):
    """Where the photographs of this test lie, and no other's."""
    place = {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": str(tmp_path)}}
    settings.STORAGES = {**settings.STORAGES, "default": place}
    return tmp_path


def files_of(draft):
    return {file_of(one.key, size) for one in draft.photographs.all() for size in Size}


def files_in(folder):
    return {str(file.relative_to(folder)) for file in folder.rglob("*") if file.is_file()}


def upload(begun, *files, **fields):
    sent = [SimpleUploadedFile(name, content, "image/jpeg") for name, content in files]
    return begun.client.post(begun.at("condition"), {"camera": sent, "add": "yes", **fields}, follow=True)


@pytest.mark.django_db
def test_photographs_are_kept_in_the_order_of_taking_with_all_that_was_typed(begun):
    upload(begun, ("one.jpg", jpeg()), left_with="Pouch")
    page = upload(begun, ("two.jpg", jpeg((90, 60))), ("three.jpg", jpeg((70, 60))), left_with="Pouch").content.decode()
    assert list(Photograph.objects.order_by("pk").values_list("width", flat=True)) == [80, 90, 70]
    assert page.count("?size=small") == 3
    assert 'value="Pouch"' in page
    assert content_of(Photograph.objects.earliest("pk"), Size.FULL)[:2] == b"\xff\xd8"


@pytest.mark.django_db
def test_a_file_that_is_sent_twice_is_one_photograph(begun, own_folder):
    """Choosing a file sends it at once; whoever taps "Next" meanwhile sends it again."""
    for _tap in range(2):
        page = upload(begun, ("one.jpg", jpeg())).content.decode()
    assert page.count("?size=small") == 1
    assert "was not kept" not in page
    assert files_of(begun.draft) == files_in(own_folder)


@pytest.mark.django_db
def test_the_twentieth_photograph_sent_again_is_not_one_too_many(begun):
    for number in range(MOST_PHOTOGRAPHS - 1):
        Photograph.objects.create(
            draft=begun.draft, key=f"{number:032}", taken_at=NOW, taken_by=begun.draft.at_it, width=1, height=1, size=1, sha256="0"
        )  # fmt: skip
    for _tap in range(2):
        assert "at most 20" not in upload(begun, ("one.jpg", jpeg())).content.decode()
    assert Photograph.objects.count() == MOST_PHOTOGRAPHS


@pytest.mark.django_db
def test_another_drop_off_may_have_the_same_photograph(begun, here):
    upload(begun, ("one.jpg", jpeg()))
    begun.begin(PieceFactory(serial="FH21-000789", boutique=here))
    upload(begun, ("one.jpg", jpeg()))
    assert Photograph.objects.values("draft").distinct().count() == 2


@pytest.mark.django_db(transaction=True)
def test_a_file_that_is_sent_twice_at_once_is_one_photograph(begun, own_folder):
    content = jpeg((600, 400))

    def send(_tap):
        try:
            return add_photograph(begun.draft, io.BytesIO(content), size=len(content), by=begun.draft.at_it, at=NOW)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as taps:
        kept_as = list(taps.map(send, range(4)))
    assert {one.key for one in kept_as} == {begun.draft.photographs.get().key}
    assert files_of(begun.draft) == files_in(own_folder)


@pytest.mark.django_db
def test_a_refused_file_is_named_with_its_reason_and_the_others_are_kept(begun):
    page = upload(begun, ("dial.jpg", jpeg()), ("virus<b>.jpg", b"<svg/>"), ("bomb.png", png_saying(10_000, 10_000)))
    text = page.content.decode()
    assert "virus&lt;b&gt;.jpg was not kept: it is no JPEG, PNG or WebP picture, whatever its name says." in text
    assert "bomb.png was not kept: it has more pixels than the house keeps" in text
    assert Photograph.objects.count() == 1


@pytest.mark.django_db
def test_a_heic_picture_is_refused_with_what_to_do_about_it(begun):
    text = upload(begun, ("IMG_0001.HEIC", CORPUS["a HEIC"][0]), ("dial.jpg", jpeg())).content.decode()
    assert "IMG_0001.HEIC was not kept: it is a HEIC picture, which the house cannot read." in text
    assert "set the camera to JPEG in its settings and take it again." in text
    assert Photograph.objects.count() == 1


@pytest.mark.django_db
def test_a_file_beyond_the_limit_is_read_past_and_said(begun):
    text = upload(begun, ("huge.jpg", b"\xff" * 15_000_001), ("dial.jpg", jpeg())).content.decode()
    assert "huge.jpg was not kept: a photograph has at most 15 MB" in text
    assert Photograph.objects.count() == 1


@pytest.mark.django_db
def test_a_disk_that_takes_nothing_is_said_and_the_step_is_kept(begun, settings, tmp_path):
    (tmp_path / "full").write_text("no folder")
    place = {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": str(tmp_path / "full")}}
    settings.STORAGES = {**settings.STORAGES, "default": place}
    page = upload(begun, ("one.jpg", jpeg()), left_with="Pouch").content.decode()
    assert "one.jpg was not kept: the server could not write it." in page
    assert 'value="Pouch"' in page
    assert not Photograph.objects.exists()


@pytest.mark.django_db
def test_a_drop_off_has_at_most_twenty(begun):
    for number in range(MOST_PHOTOGRAPHS):
        Photograph.objects.create(
            draft=begun.draft, key=f"{number:032}", taken_at=NOW, taken_by=begun.draft.at_it, width=1, height=1, size=1, sha256="0"
        )  # fmt: skip
    assert "at most 20 photographs" in upload(begun, ("one.jpg", jpeg())).content.decode()
    assert Photograph.objects.count() == MOST_PHOTOGRAPHS


@pytest.mark.django_db(transaction=True)
def test_a_photograph_can_be_removed_until_the_owner_has_signed(begun):
    upload(begun, ("one.jpg", jpeg()), ("two.jpg", jpeg((90, 60))))
    first, second = Photograph.objects.order_by("pk")
    begun.say("condition", remove=first.key)
    assert not default_storage.exists(file_of(first.key, Size.FULL))
    begun.say_all()
    begun.sign()
    begun.say("condition", remove=second.key)
    assert Photograph.objects.get() == second
    assert default_storage.exists(file_of(second.key, Size.SMALL))
    with pytest.raises(DraftOver):
        remove_photograph(begun.draft, second.key, by=StaffFactory())
    with pytest.raises(DraftOver):
        add_photograph(begun.draft, io.BytesIO(jpeg()), size=100, by=StaffFactory(), at=NOW)


@pytest.mark.django_db(transaction=True)
def test_giving_up_deletes_the_photographs_and_their_files(begun):
    upload(begun, ("one.jpg", jpeg()))
    key = Photograph.objects.get().key
    begun.client.post(reverse("intake:give_up", args=[begun.draft.pk]))
    assert not Photograph.objects.exists()
    assert not default_storage.exists(file_of(key, Size.FULL))


@pytest.mark.django_db
def test_a_photograph_added_after_the_text_was_shown_asks_for_the_signature_anew(begun):
    begun.say_all()
    seen = re.search(r'name="seen" value="(\w+)"', begun.see("sign"))[1]
    upload(begun, ("one.jpg", jpeg()), all_as_worn="on", declared_currency="GBP")
    assert begun.sign(seen=seen).status_code == 409
    assert not DropOff.objects.exists()
    begun.sign()
    assert "1 photograph was taken." in DropOff.objects.get().signature.text


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("role", "status"), [("desk", 200), ("manager", 200), ("watchmaker", 200), ("boutique", 404), ("", 302)]
)
def test_a_photograph_is_shown_to_its_boutique_the_desk_and_the_benches_alone(begun, signed_in, client, role, status):
    upload(begun, ("one.jpg", jpeg()))
    where = reverse("intake:photograph", args=[Photograph.objects.get().key])
    assert begun.client.get(where).status_code == 200
    stranger = signed_in(role, BoutiqueFactory().code if role == "boutique" else "") if role else client
    assert stranger.get(where).status_code == status


@pytest.mark.django_db
def test_a_photograph_is_sent_as_a_picture_that_runs_nothing(begun):
    upload(begun, ("one.jpg", jpeg()))
    answer = begun.client.get(reverse("intake:photograph", args=[Photograph.objects.get().key]), {"size": "small"})
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert answer.headers["Cache-Control"] == "no-store"
    assert re.fullmatch(r'inline; filename="photograph-\d+.jpg"', answer.headers["Content-Disposition"])


@pytest.mark.django_db
def test_files_lie_outside_what_is_served_as_styles(begun, settings):
    upload(begun, ("one.jpg", jpeg()))
    file = Path(default_storage.path(file_of(Photograph.objects.get().key, Size.FULL)))
    assert file.is_file()
    assert not file.is_relative_to(settings.STATIC_ROOT)


@pytest.mark.django_db
def test_an_owner_sees_those_of_their_own_drop_offs_and_a_later_owner_none(begun):
    upload(begun, ("one.jpg", jpeg()))
    owner = Owner.objects.get(name="Ada Winter")
    assert not photographs_of_owner(owner).exists()
    begun.say_all()
    begun.sign()
    assert photographs_of_owner(owner).count() == 1
    later = OwnerFactory()
    begun.draft.piece.owner = later
    begun.draft.piece.save()
    assert not photographs_of_owner(later).exists()
