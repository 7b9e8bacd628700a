"""The map while it is being shot: as much as is worth showing after every reading, and quick."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from heatmap.assessment import Assessment
from heatmap.correct import calibrate
from heatmap.decisions.next_spots import NextSpot, Stakes
from heatmap.decisions.tuning import HARDLY
from heatmap.errors import MapError
from heatmap.grate_model.reference_pairs import KnownGuns, corrected_rounds
from heatmap.grate_model.round_map import CalibrationsOf, CorrectedRounds, last_full_round, surface_to_come
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading, Round
from heatmap.taking.doubt import DOUBTED
from heatmap.taking.session import Session
from heatmap.taking.tuning import FEWEST, FEWEST_AFTER_A_FULL_ROUND, FEWEST_TO_STOP, MOST_ON_THE_SPOT
from heatmap.verdict.chances import Word


@dataclass(frozen=True, kw_only=True, eq=False)
class RunningMap(Assessment):
    """The map of an unfinished round, where it is looked at: at its labelled positions.

    The level is taken at their mean, not at that of all cells, which would take as long again.
    """

    @cached_property
    def _centre_c(self) -> float:
        return float(np.mean(self.surface.mean(self.labels_mm)))

    @cached_property
    def next(self) -> NextSpot | None:
        """Where a further shot is worth most; None where shooting all that is left would hardly change the answer."""
        stakes, shot = Stakes.of(self), {reading.position for reading in self.round.with_aim("rail")}
        best = stakes.best(1)[0]
        enough = len(shot) >= FEWEST_TO_STOP and max(stakes.gain_of_the_rest(), best.gain) < HARDLY
        return None if enough else best

    @property
    def least_sure(self) -> tuple[str, ...]:
        """The two positions whose number is known least well."""
        order = np.argsort(-self.at_labels[1], kind="stable")[:2]
        return tuple(self.grill.labels[index] for index in order)

    def labelled(self, word: Word, *, sure: bool = True) -> tuple[str, ...]:
        """Return the positions of which this word is sure, or those that only lean to it."""
        here, leaning = self.words_at_labels
        chosen = (leaning == word) & ((here == word) == sure)
        return tuple(label for label, is_so in zip(self.grill.labels, chosen, strict=True) if is_so)


def running_map(grill: Grill, earlier: Sequence[Round], one: Round, calibrations: CalibrationsOf) -> RunningMap | None:
    """Map an unfinished round after the rounds before it; None while it has too few readings."""
    believed = replace(one, readings=tuple(each for each in one.readings if not each.note.startswith(DOUBTED)))
    fewest = FEWEST if last_full_round(grill, earlier, one) is None else FEWEST_AFTER_A_FULL_ROUND
    if not fewest <= len(believed.with_aim("rail")) <= MOST_ON_THE_SPOT:
        return None
    log = CorrectedRounds(grill, (*earlier, believed), calibrations)
    try:
        return RunningMap.of(log, believed)
    except MapError:
        return None


class GrowingMap:
    """Maps a round again after every reading, and tells the session what is known by then.

    Attributes
    ----------
    running : RunningMap or None
        None while there are too few readings.
    """

    def __init__(self) -> None:
        """Begin with nothing shot; the rounds before the first session it is given stay as they are then."""
        self.running: RunningMap | None = None
        self._guns: KnownGuns
        self._references: list[Reading] | None = None  # those the guns are known by

    def update(self, session: Session) -> None:
        """Map what has been shot so far."""
        grill, earlier, one = session.grill, session.earlier, session.round
        references = [reading for reading in one.readings if reading.aim != "rail"]
        if references != self._references or any(
            pair is None for (number, *_), pair in self._guns.seen.items() if number == one.number
        ):  # what is known of the gun may be more, or another, by now
            self._guns, self._references = KnownGuns(grill, (*earlier, one)), references
        self.running = running_map(grill, earlier, one, self._guns)
        # The first shot is judged too, by the band and the air; how the gun sees it matters little for that.
        session.calibrations = self._guns(one) or {session.surface: calibrate(grill, surface=session.surface)}
        if self.running is not None:
            session.surface_known = self.running.surface
        else:  # what the rounds before say of this one
            known, group = corrected_rounds(grill, earlier), (session.name, session.lid, session.surface)
            session.surface_known = surface_to_come(known, one, dict(session.knobs), group)
