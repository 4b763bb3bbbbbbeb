"""How many blanks to start for a wanted chance of enough good pieces, from the shop's own scrap history.

The chance p that a blank comes good is not known; the history of good and scrap pieces tells of it. With a beta
distribution for p beforehand, the number of blanks it takes follows the beta-binomial (beta-negative-binomial)
distribution: A. Gelman et al., Bayesian Data Analysis, chapter 2 (from memory). Worked in fractions: exact.

Assumes blanks that fail one by one, each with the same chance. What spoils a whole set-up spoils them all together,
and no number of spares made in the same set-up helps against that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from server.trade.bounds import between
from server.trade.errors import Impossible
from server.trade.within import within

MOST_BLANKS: Final = 2_000


@dataclass(frozen=True, slots=True)
class History:
    """Pieces of like work that came good and that were scrapped, and the prior counted as so many of each more.

    prior_good, prior_scrap  more than 0, up to 1,000; 1 and 1 is the uniform prior (Laplace's rule): with no history
                             every scrap rate is as likely as another. ½ and ½ is that of Jeffreys
    """

    good: int
    scrap: int
    prior_good: Fraction = Fraction(1)
    prior_scrap: Fraction = Fraction(1)

    def __post_init__(self) -> None:
        within("good", self.good, 0, 100_000)
        within("scrap", self.scrap, 0, 100_000)
        between("prior_good", float(self.prior_good), 0.0, 1_000.001)
        between("prior_scrap", float(self.prior_scrap), 0.0, 1_000.001)

    @property
    def chance_of_one(self) -> Fraction:
        """The chance [-] that the next blank comes good."""
        return (self.good + self.prior_good) / (self.good + self.scrap + self.prior_good + self.prior_scrap)


@dataclass(frozen=True, slots=True)
class Blanks:
    """start: how many blanks; chance: of enough good ones from them [-], exact; one_less: from one blank fewer."""

    start: int
    chance: Fraction
    one_less: Fraction


def chance_of_enough(history: History, started: int, needed: int) -> Fraction:
    """The chance [-] that `started` blanks give at least `needed` good pieces, exact."""
    within("needed", needed, 1, 1_000)
    within("started", started, 0, MOST_BLANKS)
    return sum(_takes(history, needed, started), Fraction(0))


def blanks_to_start(history: History, needed: int, wanted_chance: float = 0.95) -> Blanks:
    """The fewest blanks that give at least `needed` good pieces with the chance wanted [-] (more than 0, less than 1).

    Raises OutOfRange; Impossible where 2,000 blanks are not enough: the history shows too little that came good.
    """
    within("needed", needed, 1, 1_000)
    between("wanted_chance", wanted_chance, 0.0, 1.0)
    wanted = Fraction(str(wanted_chance))  # as it was typed: 0.95 is 95 in 100
    chance = Fraction(0)
    for start, more in enumerate(_takes(history, needed, MOST_BLANKS), needed):
        if chance + more >= wanted:
            return Blanks(start, chance + more, chance)
        chance += more
    why = f"even {MOST_BLANKS} blanks do not give that chance after so much scrap"
    raise Impossible("wanted_chance", f"{wanted_chance:g}", why, "a smaller chance, or a surer way of making it")


def _takes(history: History, needed: int, most: int) -> Iterator[Fraction]:
    """The chances that it takes exactly needed, needed + 1 … up to `most` blanks until so many are good."""
    a, b = history.good + history.prior_good, history.scrap + history.prior_scrap
    if most < needed:
        return
    chance = Fraction(1)
    for i in range(needed):
        chance *= (a + i) / (a + b + i)
    yield chance
    for n in range(needed, most):
        chance *= Fraction(n, n - needed + 1) * (b + n - needed) / (a + b + n)
        yield chance
