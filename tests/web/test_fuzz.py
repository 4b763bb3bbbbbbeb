"""Whatever is sent to an action is taken or refused: the program is never at fault for it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given
from hypothesis import settings as examples
from hypothesis import strategies as st
from starlette.testclient import TestClient

from server.app import create_app
from server.records.load_plan import SheetRequest
from server.settings import Settings
from server.web.api.actions import ACTIONS
from tests.web.web import ADDRESS, HERE, Web, refusal

LIKELY = st.sampled_from(
    (
        "25",
        "25.05",
        "+2 thou",
        "1 1/4",
        "-0.03",
        "in",
        "mm",
        "deviation",
        "25 ±0.02",
        "12 H7",
        "M8x1-6g",
        "(40)",
        "max 0.8",
        "smaller",
        "G54/G55",
        "250 mm",
        "none",
        "both",
        "left",
        "finished",
        "note",
        "chatter",
        "true",
        "2026-05-01T20:15:00Z",
        "9999-12-31T23:59:59-23:59",
        "0001-01-01T00:00:00+23:59",
        "Part,No.,What,Requirement\nCR,1,Width,25 ±0.02",
        "UGFydA==",
        "=1+1",
        "\x00",
        "\u202e",
        "1e400",
        "9" * 400,
    )
)
NUMBERS = st.one_of(st.integers(0, 12), st.integers(), st.sampled_from((2**31, 2**63, 2**63 - 1, -(2**63), 10**30)))
SCALARS = st.one_of(
    st.none(), st.booleans(), NUMBERS, st.floats(allow_nan=False, allow_infinity=False), st.text(), LIKELY
)
VALUES = st.one_of(
    SCALARS,
    st.lists(
        st.one_of(SCALARS, st.fixed_dictionaries({"piece_id": NUMBERS}, optional={"work_offset": LIKELY})), max_size=3
    ),
    st.dictionaries(st.one_of(st.text(max_size=5), st.sampled_from(("0", "1", "piece_id"))), SCALARS, max_size=3),
)


def field(name: str) -> st.SearchStrategy[Any]:
    """A field's value: more often one that gets past the first check than not."""
    if name.endswith("_id"):
        return st.one_of(st.integers(1, 12), VALUES)
    if name == "pieces":
        on = st.fixed_dictionaries({"piece_id": st.integers(1, 4)}, optional={"work_offset": LIKELY})
        return st.one_of(st.lists(on, min_size=1, max_size=2), VALUES)
    if name in ("needed", "spares", "count", "number", "operation_number"):
        return st.one_of(st.integers(0, 60), VALUES)
    return st.one_of(LIKELY, VALUES)


@pytest.fixture(scope="module")
def web(tmp_path_factory: pytest.TempPathFactory, new_file: Path) -> Iterator[Web]:
    """One shop for all actions and examples: what an earlier one left behind is part of what a later one meets."""
    settings = Settings(data=tmp_path_factory.mktemp("fuzz"))
    shutil.copy(new_file, settings.database)
    with TestClient(create_app(settings), base_url=ADDRESS, client=HERE) as client:
        web = Web(client)
        web.small()
        yield web


@pytest.mark.parametrize("action", [*ACTIONS, SheetRequest], ids=lambda action: action.path)
def test_whatever_an_action_is_sent_it_is_taken_or_refused(web: Web, action: Any) -> None:
    names = list(action.model_fields)
    needed = {name: field(name) for name in names if action.model_fields[name].is_required()}
    others = {name: field(name) for name in names if name not in needed} | {"colour": SCALARS}

    @examples(max_examples=25, phases=(Phase.generate,), suppress_health_check=list(HealthCheck), database=None)
    @given(st.fixed_dictionaries(needed, optional=others))
    def send(body: dict[str, Any]) -> None:
        answer = web.post(action.path, body)
        assert answer.status_code in (200, 422), (body, answer.text)
        if answer.status_code == 422:
            refusal(answer)

    send()
    [build, *_] = web.get("/api/builds").json()
    for page in ("", "/log", "/plan", "/machine"):
        assert web.get(f"/builds/{build['id']}{page}").status_code == 200
