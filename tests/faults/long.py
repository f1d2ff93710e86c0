"""The fault tests at length, with figures: `python -m tests.faults.long [--quick] [NAME ...]`, or `./run faults`.

Each runs on SQLite and on PostgreSQL, prints its seed and what it found, and ends with 1 when anything was sent
twice or lost. SEED=n runs one again.

    kills     over 2,000 letters and 3 senders, 220 kill -9 at random moments
    points    a sender ends at each fault point, 100 times each
    paused    a sender stopped between claim and dot for longer than its lease, 200 times
    rounds    two rounds and two clocks at once over 10,000 pieces, then a round killed at each 5 % of its way
    restore   yesterday's backup after 500 letters went out
    backup    20 backups while somebody writes 50 times a second, each tried and one of them brought back; 100 damaged
"""

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.faults.checker import Found, assert_sent_once, check, told_sent
from tests.faults.damage import damaged, write
from tests.faults.houses import IN_A_HURRY, POSTGRESQL, SQLITE, Patterns, wait_until
from tests.faults.kills import POINTS, die_at, send_under_fire
from tests.servers import ServerMissing, postgresql

SECONDS = 3_000


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME", help="only these")
    parser.add_argument("--quick", action="store_true", help="a tenth of everything")
    asked = parser.parse_args(arguments)
    unknown = set(asked.names) - set(RUNS)
    if unknown:
        parser.error(f"no such test: {', '.join(sorted(unknown))}")
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # what was started is ended
    seed = int(os.environ.get("SEED", "0")) or random.SystemRandom().randrange(1, 1_000_000)
    failed = False
    with tempfile.TemporaryDirectory(prefix="service-center-faults-") as place:
        folder = Path(place)
        with postgresql(folder / "postgresql") as url:
            patterns = Patterns(folder, url)
            try:
                for name in asked.names or RUNS:
                    for vendor in (SQLITE, POSTGRESQL):
                        failed |= not _run(name, patterns, vendor, seed, part=0.1 if asked.quick else 1.0)
            finally:
                patterns.close()
    return int(failed)


def _run(name: str, patterns: Patterns, vendor: str, seed: int, *, part: float) -> bool:
    load = os.getloadavg()[0]
    print(f"{name} on {vendor}: SEED={seed}, load {load:.1f}", flush=True)
    began = time.monotonic()
    try:
        said = RUNS[name](patterns, vendor, random.Random(seed), part)
    except AssertionError as broken:
        print(f"  FAILED: {broken}", flush=True)
        return False
    print(f"  {said}; {time.monotonic() - began:.0f} s", flush=True)
    return True


def _words(found: Found) -> str:
    return (
        f"{len(found.twice)} sent twice, {found.lost} lost, {found.by_state['sent']} sent, "
        f"{found.by_state['in_doubt']} in doubt"
    )


def kills(patterns: Patterns, vendor: str, chance: random.Random, part: float) -> str:
    letters, wanted = int(2_000 * part), int(220 * part)
    with patterns.house(vendor, owners=letters, settings=IN_A_HURRY) as house:
        house.written()
        house.sink.think = lambda: chance.uniform(0, 0.01)
        done = send_under_fire(house, chance, letters=letters, kills=wanted, senders=3, seconds=SECONDS)
        found = assert_sent_once(house, letters=letters, kills=done.kills)
        assert told_sent(done.senders) <= found.by_state["sent"]
        listed = house.do("listed", state="in_doubt")
        assert len(listed) == found.by_state["in_doubt"], "a doubt is missing on the list"
        return f"{letters} letters, {done.kills} kills in {done.seconds:.0f} s: {_words(found)}, all of those listed"


def points(patterns: Patterns, vendor: str, chance: random.Random, part: float) -> str:
    times = max(1, int(100 * part))
    letters = times * (len(POINTS) + 2)
    with patterns.house(vendor, owners=letters) as house:
        house.written()
        for _time in range(times):
            for point in POINTS:
                die_at(house, point, "exit", chance.randint(1, 2))
        house.do("send", seconds=SECONDS)
        found = assert_sent_once(house, letters=letters, kills=times * sum(POINTS.values()))
        assert found.by_state["in_doubt"] == times * sum(POINTS.values())
        return f"{len(POINTS)} points, {times} times each: {_words(found)}"


def paused(patterns: Patterns, vendor: str, chance: random.Random, part: float) -> str:
    times = int(200 * part)
    with patterns.house(vendor, owners=times * 2) as house:
        house.written()
        house.write("UPDATE letters_letter SET state = 'held'")
        for _time in range(times):
            house.write(
                "UPDATE letters_letter SET state = 'waiting' WHERE id IN "
                "(SELECT id FROM letters_letter WHERE state = 'held' ORDER BY id LIMIT 2)"
            )
            sleeper = house.start(
                "send", faults=f"{chance.choice(['claimed', 'before_dot'])}:stop", until_settled=False
            )
            wait_until(lambda: sleeper.stopped, seconds=30, what="asleep")  # noqa: B023
            house.leases_run_out()
            house.do("send")
            sleeper.signal(signal.SIGCONT)
            sleeper.wait(60)
        return f"{times} senders woke up after their lease: {_words(assert_sent_once(house, letters=times * 2))}"


def rounds(patterns: Patterns, vendor: str, chance: random.Random, part: float) -> str:
    owners, at_once = int(5_000 * part), int(250 * part)
    with patterns.house(vendor, owners=owners, pieces_each=2) as house:
        both = [house.start("round", day="2019-03-18") for _number in range(2)]
        clocks = [house.start("beat", day="2019-03-18", ticks=2) for _number in range(2)]
        for child in (*both, *clocks):
            child.told(SECONDS)
        house.do("send", seconds=SECONDS)
        found = assert_sent_once(house, letters=owners)
        reminders = house.rows("SELECT count(*) FROM letters_reminder WHERE ended_on IS NULL")
        assert reminders == [(2 * owners,)], reminders
    with patterns.house(vendor, owners=owners, pieces_each=2) as house:
        batches = owners // at_once
        for _batch in range(batches):
            # Each goes on where the one before it was killed.
            dying = house.start("round", faults="round_batch:exit:2", day="2019-03-18", owners_at_once=at_once)
            dying.wait(SECONDS)
        house.do("round", day="2019-03-18", owners_at_once=at_once, seconds=SECONDS)
        again = check(house)
        assert again.letters == owners, again
        reminders = house.rows("SELECT count(*) FROM letters_reminder WHERE ended_on IS NULL")
        assert reminders == [(2 * owners,)], reminders
    return (
        f"two rounds and two clocks at once over {2 * owners} pieces: {_words(found)}; "
        f"a round killed {batches} times on its way: {again.letters} letters as undisturbed"
    )


def restore(patterns: Patterns, vendor: str, chance: random.Random, part: float) -> str:
    letters, out = int(800 * part), int(500 * part)
    with patterns.house(vendor, owners=letters) as house:
        house.written()
        with patterns.backup(house) as restored:
            house.write(
                "UPDATE letters_letter SET state = 'held' WHERE id IN "
                f"(SELECT id FROM letters_letter ORDER BY id LIMIT {letters - out})"
            )
            house.do("send", seconds=SECONDS)
            told = restored.do("after_restore", seconds=SECONDS)
            assert told["marked_sent"] == out, told
            restored.do("after_restore", go_on=True)
            restored.do("send", seconds=SECONDS)
            found = assert_sent_once(restored, letters=letters)
            return f"{out} of {letters} letters went out after the backup: {_words(found)}"


def backup(patterns: Patterns, vendor: str, chance: random.Random, part: float) -> str:
    times, harms = max(1, int(20 * part)), max(2, int(100 * part))
    pairs = "SELECT count(*) FROM book_owner WHERE code LIKE 'PAIR-%'"
    with patterns.house(vendor, owners=int(2_000 * part)) as house, patterns.house(vendor) as new:
        stop = house.folder / "stop"
        writer = house.start("write_pairs", stop=str(stop))
        wait_until(lambda: house.rows(pairs)[0][0] > 5, seconds=30, what="somebody writes")
        files = [house.folder / f"house-{number}.zip" for number in range(times)]
        for file in files:
            [(before,)] = house.rows(pairs)
            done = house.do("run", name="backup", arguments=[str(file)], seconds=SECONDS)
            assert done["code"] == 0, done["said"]
            [(after,)] = house.rows(pairs)
            assert after > before, "nobody wrote meanwhile"
        stop.touch()
        written = writer.told(60)
        for found in house.do("try_all", files=[str(file) for file in files], seconds=SECONDS):
            assert found["code"] == 0, found["said"]
            assert found["told"]["book_same"] is True, found
        done = new.do("run", name="restore", arguments=[str(files[-1])], seconds=SECONDS)
        assert done["code"] == 0, done["said"]
        assert new.rows(pairs) == new.rows(pairs.replace("book_owner", "book_piece").replace("code", "serial"))
        whole, harmed = files[0].read_bytes(), []
        for number, (_what, content) in enumerate(damaged(whole, chance, flips=harms // 2, cuts=harms // 2)):
            place = house.folder / f"damaged-{number}"
            place.mkdir()
            harmed.append(str(write(place, content)))
        found_out = house.do("try_all", files=harmed, seconds=SECONDS)
        seen = [one["code"] for one in found_out].count(2)
        assert seen == len(harmed), [one for one in found_out if one["code"] != 2]
    return f"{times} of {times} backups whole while {written} pairs were written; {seen} of {len(harmed)} damaged found"


RUNS: dict[str, Callable[[Patterns, str, random.Random, float], str]] = {
    "kills": kills,
    "points": points,
    "paused": paused,
    "rounds": rounds,
    "restore": restore,
    "backup": backup,
}

if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except ServerMissing as missing:
        print(missing, file=sys.stderr)
        sys.exit(2)
    except KeyboardInterrupt:
        sys.exit(130)
