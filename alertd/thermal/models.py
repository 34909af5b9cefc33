"""What models say of one group, computed when it is first asked for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64
from alertd.site import Protection

from .exposure import Tissue
from .forcing import forcing_of
from .memory import FAR_FOR
from .pots import pot_of
from .root_model import roots_felt
from .store_model import stored_roots_felt
from .wood_model import bare_wood_of, wood_felt

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping

    from alertd.site import Site, TreeGroup
    from alertd.weather import Series

    from .felt import Felt
    from .forcing import Forcing
    from .memory import ModelMemory


@dataclass(slots=True)
class ModelWeather:
    """Weather as the models take it, made once for all groups of a site.

    Parameters
    ----------
    site : Site
        Where.
    ahead : Series
        The forecast.
    past : Series or None
        Weather of the days before, shape (1, n_times).
    sensors : mapping of str to float
        [°C] What own thermometers said lately, by station; for store rooms.
    memory : ModelMemory or None
        What was computed at earlier looks; with it, models look no further ahead than it reaches.
    """

    site: Site
    ahead: Series
    past: Series | None
    sensors: Mapping[str, float] = field(default_factory=dict)
    memory: ModelMemory | None = None
    _forcing: Forcing | None = None
    _bare_wood: dict[Hashable, Felt] = field(default_factory=dict)

    @property
    def forcing(self) -> Forcing | None:
        """The weather, or ``None`` if the forecast tells no air temperature."""
        if self._forcing is None and not np.isnan(self.ahead.air_temperature).all():
            self._forcing = forcing_of(self.site.latitude, self.site.longitude, self.seen, self.past)
        return self._forcing

    @property
    def seen(self) -> Series:
        """The part of the forecast that is computed: all of it, unless a memory says how far ahead matters."""
        if self.memory is None or self.ahead.n_times == 0:
            return self.ahead
        first = from_datetime64(self.ahead.times[0])
        return self.ahead.window(first, first + self.memory.reach + FAR_FOR + timedelta(hours=1))

    def wood_felt(
        self, group: TreeGroup, tissue: Tissue, forcing: Forcing, limit: float, *, is_in_place: bool
    ) -> Felt | None:
        """Return what a group's wood will feel; bare twigs of one kind of place are computed once for all groups."""
        kind = bare_wood_of(group, is_in_place=is_in_place)
        known = self._bare_wood.get(kind)
        if known is not None:
            return replace(known, exposure=replace(known.exposure, tissue=tissue))
        felt = wood_felt(group, tissue, forcing, self.seen.times, limit=limit, is_in_place=is_in_place)
        if kind is not None and felt is not None and not felt.is_bound:
            self._bare_wood[kind] = felt
        return felt


@dataclass(slots=True)
class Models:
    """What models say of one group.

    Parameters
    ----------
    group : TreeGroup
        The group.
    weather : ModelWeather
        Shared by all groups.
    root_share : float
        Part of the root ball that may be lost before it counts.
    """

    group: TreeGroup
    weather: ModelWeather
    root_share: float
    _known: dict[tuple[Tissue, float, bool], Felt | None] = field(default_factory=dict)

    def felt(self, tissue: Tissue, limit: float, critical: float, *, is_in_place: bool) -> Felt | None:
        """Return what a model says a tissue will feel.

        Parameters
        ----------
        tissue : Tissue
            Which.
        limit : float
            [°C] What is above it need not be known exactly.
        critical : float
            [°C] What the tissue stands.
        is_in_place : bool
            Whether the group's protection is in place.

        Returns
        -------
        Felt or None
            ``None`` where no model has anything to say.
        """
        key = (tissue, limit, is_in_place)
        if key not in self._known:
            self._known[key] = self._felt(tissue, limit, critical, is_in_place=is_in_place)
        return self._known[key]

    def _felt(self, tissue: Tissue, limit: float, critical: float, *, is_in_place: bool) -> Felt | None:
        forcing, memory = self.weather.forcing, self.weather.memory
        if forcing is None:
            return None
        if memory is None:
            return self._computed(forcing, tissue, limit, critical, is_in_place=is_in_place)
        question = (tissue, limit, critical, is_in_place, self.root_share)
        return memory.felt(
            self.group,
            question,
            limit,
            forcing,
            self.weather.ahead.times,
            lambda: self._computed(forcing, tissue, limit, critical, is_in_place=is_in_place),
            self._sensor(),
        )

    def _computed(
        self, forcing: Forcing, tissue: Tissue, limit: float, critical: float, *, is_in_place: bool
    ) -> Felt | None:
        """Return what a model computes now."""
        group, memory, times = self.group, self.weather.memory, self.weather.seen.times
        if tissue is not Tissue.ROOTS:
            return self.weather.wood_felt(group, tissue, forcing, limit, is_in_place=is_in_place)
        pot = pot_of(group, is_clustered=is_in_place and group.protection is Protection.CLUSTER)
        if is_in_place and group.protection is Protection.STORE:
            room = group.store_room
            if room is None:
                return None
            sensor = self._sensor()
            return stored_roots_felt(
                group, room, pot, forcing, times, limit=limit, share=self.root_share, sensor=sensor
            )
        kept = None if memory is None else memory.roots
        key = f"{group.group_id}: {pot.neighbours} together"
        return roots_felt(
            pot, forcing, times, limit=limit, critical=critical, share=self.root_share, kept=kept, key=key
        )

    def _sensor(self) -> float | None:
        """Return what the thermometer in the group's store room said last [°C], if there is one."""
        room = self.group.store_room
        return None if room is None or room.sensor is None else self.weather.sensors.get(room.sensor)
