"""The lines of docs/large-data.md, run on the worker processes of a small cluster."""

import math
import re
from pathlib import Path

import pytest
from dask.distributed import Client, LocalCluster

PAGE = Path(__file__).parent.parent / "docs" / "large-data.md"
SQRT3 = math.sqrt(3)


@pytest.fixture(scope="module")
def client():
    cluster = LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    )
    with cluster, Client(cluster) as connected:
        yield connected


@pytest.fixture(scope="module")
def lines_of_the_page():
    # A module that the workers can't import: functions of it are sent whole.
    names = {"__name__": "__main__"}
    for block in re.findall(r"^```python\n(.*?)^```", PAGE.read_text("utf-8"), re.S | re.M):
        exec(block, names)
    return names


def test_parts_are_rated_by_the_workers(client, lines_of_the_page, tmp_path):
    parts = []
    for number in range(5):
        part = tmp_path / f"part{number}.csv"
        rows = [(f"T{number}-{i}", 15 * (1 + i % 4), (480, 208)[number % 2]) for i in range(200)]
        part.write_text(
            "tag,kva,volts\n" + "".join(f"{tag},{kva},{volts}\n" for tag, kva, volts in rows),
            "utf-8",
        )
        parts.append(part)

    written = lines_of_the_page["rate_all"](list(map(str, parts)), client)

    assert len(written) == len(parts)
    for number, name in enumerate(written):
        lines = [line.split(";") for line in Path(name).read_text("utf-8").splitlines()]
        assert len(lines) == 200
        volts = (480, 208)[number % 2]
        for i, (tag, amps, _, _) in enumerate(lines):
            assert tag == f"T{number}-{i}"
            # S = sqrt(3) V I, the definition of apparent power.
            assert float(amps) == pytest.approx(1000 * 15 * (1 + i % 4) / (SQRT3 * volts))
    # 45 kVA at 208 V: 124.9 A, of a continuous load 156.1 A; the next standard rating is 175 A
    # (NFPA 70-2023, 215.3 and 240.6(A)), for which Table 250.122 gives 6 AWG copper.
    assert Path(written[1]).read_text("utf-8").splitlines()[2].endswith(";175.0;6 AWG")


def test_a_row_that_has_no_answer_says_so_and_stops_no_other(client, lines_of_the_page, tmp_path):
    part = tmp_path / "part.csv"
    part.write_text("tag,kva,volts\nT1,45,208\nT2,-1,208\n", "utf-8")
    (written,) = lines_of_the_page["rate_all"]([str(part)], client)
    first, second = (line.split(";") for line in Path(written).read_text("utf-8").splitlines())
    assert first[2:] == ["175.0", "6 AWG"]
    assert all(answer.startswith("Check: kva") for answer in second[1:])
