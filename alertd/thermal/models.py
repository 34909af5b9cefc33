"""What models say of one group, computed when it is first asked for."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from alertd.site import Site, TreeGroup
    from alertd.weather import Series

    from .exposure import Tissue
    from .felt import Felt


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
    """

    site: Site
    ahead: Series
    past: Series | None


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
    _known: dict[tuple[Tissue, bool], Felt | None] = field(default_factory=dict)

    def felt(self, tissue: Tissue, limit: float, *, is_in_place: bool) -> Felt | None:
        """Return what a model says a tissue will feel.

        Parameters
        ----------
        tissue : Tissue
            Which.
        limit : float
            [°C] What is above it need not be known exactly.
        is_in_place : bool
            Whether the group's protection is in place.

        Returns
        -------
        Felt or None
            ``None`` where no model has anything to say.
        """
        del limit
        return self._known.get((tissue, is_in_place))
