"""One-time codes: what they are made of, how long they last, and how few may be guessed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.web.invitations import ALPHABET, LENGTH, LIFE_S, TRIES, Invitations, NotInvited, as_typed, could_be_a_code


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def invitations(clock: Clock) -> Invitations:
    return Invitations(clock)


def another(code: str) -> str:
    """A code that is not this one."""
    return code[:-1] + ALPHABET[(ALPHABET.index(code[-1]) + 1) % len(ALPHABET)]


def test_no_letter_or_figure_of_a_code_is_taken_for_another() -> None:
    for alike in ("0OQ", "1IL", "2Z", "5S", "8B", "UV"):
        assert len(set(alike) & set(ALPHABET)) <= 1, alike
    assert len(set(ALPHABET)) == len(ALPHABET)


def test_five_guesses_hardly_ever_hit() -> None:
    """NIST SP 800-63B 5.1.3.2 (from memory): 20 bits are enough where tries are limited; here two codes may be open."""
    assert 2 * TRIES / len(ALPHABET) ** LENGTH < 2**-20 / 1000


def test_codes_are_not_alike(invitations: Invitations) -> None:
    codes = {invitations.make("editor").code for _ in range(300)}
    assert len(codes) == 300
    assert all(could_be_a_code(code) for code in codes)
    for place in range(LENGTH):  # every place takes many values: 300 draws of 24 miss more than 8 never in practice
        assert len({code[place] for code in codes}) > 16


def test_a_code_lets_in_once(invitations: Invitations) -> None:
    """Replay: who reads the code along on the network is too late."""
    made = invitations.make("editor")
    assert invitations.redeem(made.code) == "editor"
    with pytest.raises(NotInvited):
        invitations.redeem(made.code)


@pytest.mark.parametrize("role", ["editor", "viewer"])
def test_a_code_ends_with_its_time(invitations: Invitations, clock: Clock, role: str) -> None:
    """A code seen over the shoulder is of no use later: 2 minutes for a device that may write, 15 for a visitor."""
    life = {"editor": 120.0, "viewer": 900.0}[role]
    made = invitations.make(role)  # type: ignore[arg-type]
    clock.now += life - 0.001
    late = Invitations(clock)
    late_made = late.make(role)  # type: ignore[arg-type]
    assert invitations.redeem(made.code) == role
    clock.now += life
    with pytest.raises(NotInvited):
        late.redeem(late_made.code)


def test_the_fifth_wrong_try_makes_a_code_void(invitations: Invitations) -> None:
    """Guessing."""
    made = invitations.make("editor")
    for _ in range(TRIES - 1):
        with pytest.raises(NotInvited):
            invitations.redeem(another(made.code))
    assert invitations.redeem(made.code) == "editor"
    made = invitations.make("editor")
    for _ in range(TRIES):
        with pytest.raises(NotInvited):
            invitations.redeem(another(made.code))
    with pytest.raises(NotInvited):
        invitations.redeem(made.code)
    assert invitations.redeem(invitations.make("editor").code) == "editor"


def test_a_wrong_try_counts_against_every_open_code(invitations: Invitations) -> None:
    """Else two open codes could be tried twice as often."""
    editor, viewer = invitations.make("editor"), invitations.make("viewer")
    wrong = next(code for code in ("AAAAAAAA", "CCCCCCCC") if code not in (editor.code, viewer.code))
    for _ in range(TRIES):
        with pytest.raises(NotInvited):
            invitations.redeem(wrong)
    for each in (editor, viewer):
        with pytest.raises(NotInvited):
            invitations.redeem(each.code)


def test_a_new_code_makes_the_last_one_void(invitations: Invitations) -> None:
    first, visitor, second = (invitations.make(role) for role in ("editor", "viewer", "editor"))  # type: ignore[arg-type]
    with pytest.raises(NotInvited):
        invitations.redeem(first.code)
    assert invitations.redeem(visitor.code) == "viewer"
    assert invitations.redeem(second.code) == "editor"


def test_nothing_is_let_in_where_no_one_is_invited(invitations: Invitations) -> None:
    for code in ("", "AAAAAAAA"):
        with pytest.raises(NotInvited):
            invitations.redeem(code)


@given(st.text(alphabet=ALPHABET, min_size=LENGTH, max_size=LENGTH), st.data())
def test_a_code_may_be_typed_as_one_likes(code: str, data: st.DataObject) -> None:
    typed = "".join(each + data.draw(st.sampled_from(["", " ", "-", "  ", "\t"])) for each in code)
    assert as_typed(typed.lower()) == as_typed(typed) == code


@given(st.text())
def test_what_is_typed_is_a_code_or_it_is_not(text: str) -> None:
    typed = as_typed(text)
    assert could_be_a_code(typed) == (len(typed) == LENGTH and all(each in ALPHABET for each in typed))


def test_the_times_are_those_the_screen_says() -> None:
    assert LIFE_S == {"editor": 120.0, "viewer": 900.0}
