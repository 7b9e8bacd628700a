"""The map of the round being taken, kept up with what has been shot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from heatmap.taking.session import Known

if TYPE_CHECKING:
    from heatmap.grate_model.round_map import RoundMap
    from heatmap.grill.grill import Grill
    from heatmap.readings.reading import Round
    from heatmap.taking.running import Background, RunningMap
    from heatmap.taking.session import Session


class GrowingMap:
    """Maps a round again after every reading, and tells the session what is known by then.

    Attributes
    ----------
    running : RunningMap or None
        None while there are too few readings.
    """

    def __init__(self, grill: Grill, earlier: tuple[Round, ...] = (), base: RoundMap | None = None) -> None:
        """Begin with nothing shot; `base` is the map a re-check moves."""
        self.grill, self.earlier, self.base = grill, earlier, base
        self.running: RunningMap | None = None
        self._background: Background | None = None
        self._looked_at, self._references = -1, 0

    def update(self, session: Session) -> None:
        """Map what has been shot so far."""
        from heatmap.taking.running import running_map

        self._learn(session)
        if self._background is not None:
            self.running = running_map(self.grill, session.round, self._background, self.base)
            self._learn(session)

    def _learn(self, session: Session) -> None:
        """Learn what is known of the gun; again whenever something was taken that teaches it."""
        from heatmap.taking.running import Background

        one = session.round
        if not session.readings:
            from heatmap.grate_model.reference_pairs import calibration_for

            # The first shot is judged too, by the band and the air; how the gun sees it matters little for that.
            calibration = calibration_for(self.grill, (), one, session.surface)
            session.known = Known(calibrations={session.surface: calibration})
            return
        states = {reading.surface for reading in one.readings}
        references = sum(reading.aim != "rail" for reading in one.readings)
        if self._background is None or states - set(self._background.calibrations) or references != self._references:
            from heatmap.grate_model.reference_pairs import calibrations_for

            calibrations = calibrations_for(self.grill, (*self.earlier, one), one)
            self._background = Background(calibrations=calibrations, suspects=self._suspects)
            self._references = references
        session.known = Known(
            calibrations=self._background.calibrations,
            round_map=self.running.round_map if self.running else None,
        )

    def _odd_in_recheck(self) -> Mapping[int, str] | None:
        """Return the shots of a re-check that its map leaves out by now; None where there are none."""
        if self.running is None or not self.running.round_map.suspects:
            return None
        mapped = self.running.round_map
        return {mapped.spots[index].reading.id: why for index, why in mapped.suspects.items()}

    @property
    def _suspects(self) -> Mapping[int, str]:
        return self._background.suspects if self._background else {}

    def has_looked_behind(self, session: Session) -> bool:
        """Tell whether all readings there are have been weighed against one another."""
        return self._looked_at == len(session.readings)

    def look_behind(self, session: Session) -> Mapping[int, str] | None:
        """Weigh all readings against one another, which takes longer than a cook should wait after a shot.

        Returns
        -------
        mapping or None
            Reading id to why it is not believed, of those that were believed before; None when nothing has changed.
        """
        from heatmap.taking.running import FEWEST, MOST, look_behind

        self._looked_at = len(session.readings)
        one = session.round
        if session.doubts:
            return None
        if self.base is not None:
            return self._odd_in_recheck()
        if not FEWEST <= len(one.readings) <= MOST:
            return None
        before = self._suspects
        self._background = look_behind(self.grill, (*self.earlier, one), one)
        found = self._suspects
        return None if dict(found) == dict(before) else {one: why for one, why in found.items() if one not in before}
