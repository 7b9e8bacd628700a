"""The map of the round being taken, kept up with what has been shot."""

from __future__ import annotations

from typing import TYPE_CHECKING

from heatmap.taking.standing import Known

if TYPE_CHECKING:
    from heatmap.grate_model.model import RoundSurface
    from heatmap.grate_model.reference_pairs import KnownGuns
    from heatmap.grill.grill import Grill
    from heatmap.readings.reading import Reading, Round
    from heatmap.taking.running import RunningMap
    from heatmap.taking.session import Session


class GrowingMap:
    """Maps a round again after every reading, and tells the session what is known by then.

    Attributes
    ----------
    running : RunningMap or None
        None while there are too few readings.
    """

    def __init__(self, grill: Grill, earlier: tuple[Round, ...] = ()) -> None:
        """Begin with nothing shot after the earlier rounds."""
        self.grill, self.earlier = grill, earlier
        self.running: RunningMap | None = None
        self._known: KnownGuns | None = None
        self._references = 0
        self._told: set[int] = set()
        self._asked: tuple[object, ...] | None = None
        self._to_come: RoundSurface | None = None

    def update(self, session: Session) -> None:
        """Map what has been shot so far."""
        from heatmap.grate_model.reference_pairs import KnownGuns, calibration_for, calibrations_of
        from heatmap.taking.running import running_map

        one = session.round
        if not session.readings:
            # The first shot is judged too, by the band and the air; how the gun sees it matters little for that.
            calibration = calibration_for(self.grill, (), one, session.surface)
            session.known = Known(calibrations={session.surface: calibration}, to_come=self._surface_to_come(session))
            return
        references = sum(reading.aim != "rail" for reading in one.readings)
        if self._known is None or references != self._references:
            self._known, self._references = KnownGuns(), references
        calibrations = calibrations_of(self.grill, (*self.earlier, one), self._known)
        self.running = running_map(self.grill, self.earlier, one, calibrations)
        mapped = self.running.round_map if self.running else None
        to_come = None if mapped else self._surface_to_come(session)
        session.known = Known(calibrations=calibrations(one), round_map=mapped, to_come=to_come)

    def _surface_to_come(self, session: Session) -> RoundSurface | None:
        """Return what the rounds before say of this one, worked out once for the same knobs, lid and rails."""
        from heatmap.grate_model.reference_pairs import KnownGuns, calibrations_of
        from heatmap.grate_model.round_map import surface_to_come

        group = (session.name, session.lid, session.surface)
        asked = (dict(session.knobs), group)
        if self._asked != asked:
            calibrations = calibrations_of(self.grill, self.earlier, KnownGuns())
            given = (self.grill, self.earlier, session.round, dict(session.knobs), group, calibrations)
            self._asked, self._to_come = asked, surface_to_come(*given)
        return self._to_come

    def new_suspects(self) -> list[tuple[Reading, float]]:
        """Return the readings that turn out not to fit the others, each once, and what the gun should have shown."""
        import numpy as np

        if self.running is None:
            return []
        mapped, found = self.running.round_map, []
        for index, (expected_c, _) in mapped.suspects.items():
            reading = mapped.spots[index].reading
            if reading.id not in self._told:
                self._told.add(reading.id)
                shown_c = self.running.calibration.shown_from_rail_c(np.array([expected_c]))
                found.append((reading, float(shown_c[0])))
        return found
