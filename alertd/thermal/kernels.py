"""The steps of `scheme` and the readings of `root_zone`, compiled: the same arithmetic, cell by cell.

Imported only where numba is there. All arrays are one-dimensional views, rings and members of a layer in one loop, so
that the compiler makes vector instructions of it; coverage cannot look into compiled code, a test compares it with the
arithmetic of numpy.
"""
# mypy: disable-error-code="no-untyped-def,no-untyped-call,misc"

from __future__ import annotations

import math

import numpy as np

from .fast_settings import CERTAIN, NEAREST, NEAREST_WALL, START, compiled


@compiled
def evaluate(padded, energy, of_frozen, freezing_by_frozen, unfrozen_by_frozen, lowered, n_layers, width, stride):
    """Compute the flux variable of all cells from their energy."""
    for layer in range(n_layers):
        values = padded[(layer + 1) * stride : (layer + 1) * stride + width]
        energies, slopes = energy[layer * width : (layer + 1) * width], of_frozen[layer * width : (layer + 1) * width]
        for place in range(width):
            value = energies[place] * slopes[place]
            freezing = value * freezing_by_frozen[place]
            unfrozen = value * unfrozen_by_frozen[place] - lowered[place]
            lower = value if value < freezing else freezing
            values[place] = lower if lower > unfrozen else unfrozen


@compiled
def move_nodes(padded, radial_still, radial, depths, offset, by_melting, ring_widths, n_layers, n_rings, n_members):
    """Put the nodes of cells that are partly frozen to the freezing front."""
    width, stride = n_rings * n_members, (n_rings + 1) * n_members
    still = width - n_members
    for layer in range(n_layers):
        first, base = (layer + 1) * stride, layer * width
        values, outer = padded[first : first + width], padded[first + n_members : first + n_members + width]
        offsets = offset[base : base + width]
        for place in range(width):
            fraction = values[place] * by_melting[place]
            fraction = 0.0 if fraction < 0.0 else fraction
            fraction = 1.0 if fraction > 1.0 else fraction
            rest = 1.0 - fraction
            near = (fraction if fraction < rest else rest) * (1.0 / START)
            offsets[place] = (fraction - 0.5) * (near if near < 1.0 else 1.0)
        for place in range(n_members):
            side = (values[place] - outer[place]) * (by_melting[place] / CERTAIN)
            side = -1.0 if side < -1.0 else side
            offsets[place] *= 1.0 if side > 1.0 else side
        inner, later, factors = values[:still], outer[n_members:], by_melting[n_members:]
        moved = offsets[n_members:]
        for place in range(still):
            side = (inner[place] - later[place]) * (factors[place] / CERTAIN)
            side = -1.0 if side < -1.0 else side
            moved[place] *= 1.0 if side > 1.0 else side
        faces, faces_still = radial[base : base + still], radial_still[base : base + still]
        for place in range(still):
            distance = moved[place] - offsets[place] + 1.0
            faces[place] = faces_still[place] / (distance if distance > NEAREST else NEAREST)
        last, gaps = offsets[still:], depths[layer * n_members : (layer + 1) * n_members]
        for member in range(n_members):
            gap = 0.5 - last[member]
            gaps[member] = (gap if gap > NEAREST_WALL else NEAREST_WALL) * ring_widths[layer]


@compiled
def meet_films(
    padded, radial, axial, depths, areas, temperature, conductance, branches, outers, constants, n_layers, n_rings, n_members, step
):  # fmt: skip
    """Find the flux variable and the conductance by which films act on the cells at the surfaces."""
    width, stride = n_rings * n_members, (n_rings + 1) * n_members
    for row in range(n_layers + 2 * n_rings):
        if row < n_layers:
            cell = (row + 1) * stride + width - n_members
            target, face = cell + n_members, row * width + width - n_members
        elif row < n_layers + n_rings:
            cell = n_layers * stride + (row - n_layers) * n_members
            target, face = cell + stride, n_layers * width + (row - n_layers) * n_members
        else:
            ring = (row - n_layers - n_rings) * n_members
            cell, target, face = stride + ring, ring, ring
        for member in range(n_members):
            place = row * n_members + member
            frozen_below, freezing_point = constants[0, member], constants[1, member]
            melting_flux = constants[2, member]
            film = temperature[place]
            inward = conductance[place] * depths[place]
            reached = padded[cell + member] + inward * film
            branch, lifted, corner = constants[4, member], 0.0, frozen_below
            if reached < inward * frozen_below:
                branch = constants[3, member]
            elif reached > melting_flux + inward * freezing_point:
                branch, lifted, corner = constants[5, member], melting_flux, freezing_point
            outer = branch * (film - corner) + lifted
            branches[place], outers[place] = branch, outer
            acting = areas[row] * conductance[place] / (inward + branch) * step
            padded[target + member] = outer
            if row < n_layers:
                radial[face + member] = acting
            else:
                axial[face + member] = acting


@compiled
def make_step(
    padded, radial, axial, energy, change, of_frozen, freezing_by_frozen, unfrozen_by_frozen, lowered,
    n_layers, n_rings, n_members, n_stages,
):  # fmt: skip
    """Make one step with conductances as they are."""
    width, stride = n_rings * n_members, (n_rings + 1) * n_members
    flow = np.empty(width)
    size = 2.0 / (n_stages * n_stages + n_stages)
    for stage in range(1, n_stages + 1):
        kept = 0.0 if stage == 1 else (stage - 1.0) / stage
        weight = size if stage == 1 else (2.0 * stage - 1.0) / stage * size
        for layer in range(n_layers):
            first, base = (layer + 1) * stride, layer * width
            values, outer = padded[first : first + width], padded[first + n_members : first + n_members + width]
            above, below = (
                padded[first + stride : first + stride + width],
                padded[first - stride : first - stride + width],
            )
            upper, lower = axial[base + width : base + 2 * width], axial[base : base + width]
            faces = radial[base : base + width]
            changes, energies = change[base : base + width], energy[base : base + width]
            flows = flow[:width]
            for place in range(width):
                flows[place] = (outer[place] - values[place]) * faces[place]
            for place in range(n_members):
                here = values[place]
                net = (above[place] - here) * upper[place] - (here - below[place]) * lower[place] + flows[place]
                changes[place] = kept * changes[place] + weight * net
                energies[place] += changes[place]
            values, above, below, upper = values[n_members:], above[n_members:], below[n_members:], upper[n_members:]
            lower, changes, energies = lower[n_members:], changes[n_members:], energies[n_members:]
            outward = flows[n_members:]
            for place in range(width - n_members):
                here = values[place]
                net = (
                    (above[place] - here) * upper[place]
                    - (here - below[place]) * lower[place]
                    + outward[place]
                    - flows[place]
                )
                new = kept * changes[place] + weight * net
                changes[place] = new
                energies[place] += new
        evaluate(padded, energy, of_frozen, freezing_by_frozen, unfrozen_by_frozen, lowered, n_layers, width, stride)


@compiled
def make_hour(
    padded, radial_still, radial, axial, energy, change, of_frozen, freezing_by_frozen, unfrozen_by_frozen, lowered,
    by_melting, ring_widths, still_depths, depths, offset, areas, temperature, conductance, branches, outers, constants,
    n_layers, n_rings, n_members, n_stages, n_steps, step, is_mild,
):  # fmt: skip
    """Go on by an hour; leave the profile of its end in `offset` and `outers`."""
    for number in range(n_steps + 1):
        if is_mild:
            if number == 0:
                radial[:] = radial_still
                depths[:] = still_depths
                offset[:] = 0.0
        else:
            move_nodes(
                padded, radial_still, radial, depths, offset, by_melting, ring_widths, n_layers, n_rings, n_members
            )
        meet_films(
            padded, radial, axial, depths, areas, temperature, conductance, branches, outers, constants, n_layers, n_rings, n_members, step
        )  # fmt: skip
        if number < n_steps:
            make_step(
                padded, radial, axial, energy, change, of_frozen, freezing_by_frozen, unfrozen_by_frozen, lowered,
                n_layers, n_rings, n_members, n_stages,
            )  # fmt: skip


@compiled
def read_shares(
    temperature,
    surface,
    parts,
    cold_limit,
    share,
    guess,
    close,
    most_rounds,
    least_slope,
    least_span,
    n_layers,
    n_rings,
    n_members,
    spans,
    frozen,
):
    """Return into `guess` the coldest share and into `frozen` the share below the limit."""
    width = n_rings * n_members
    lowest = np.full(n_members, np.inf)
    highest = np.full(n_members, -np.inf)
    frozen[:] = 0.0
    for layer in range(n_layers):
        below = -width if layer > 0 else 0
        above = width if layer < n_layers - 1 else 0
        for ring in range(n_rings):
            inner = -n_members if ring > 0 else 0
            outer = n_members if ring < n_rings - 1 else 0
            base = layer * width + ring * n_members
            part = parts[layer * n_rings + ring]
            is_wall = ring == n_rings - 1
            for member in range(n_members):
                place = base + member
                here = temperature[place]
                east = temperature[place + outer]
                if is_wall:
                    east = 2.0 * surface[layer * n_members + member] - here
                across = abs(east - temperature[place + inner])
                span = max((across + abs(temperature[place + above] - temperature[place + below])) * 0.5, least_span)
                spans[place] = span
                lowest[member] = min(lowest[member], here)
                highest[member] = max(highest[member], here)
                frozen[member] += min(max((cold_limit - here) / span + 0.5, 0.0), 1.0) * part
    for member in range(n_members):
        start = guess[member]
        if math.isnan(start):
            start = (lowest[member] + highest[member]) / 2.0
        guess[member] = min(max(start, lowest[member]), highest[member])
    excess, slope, before = np.empty(n_members), np.empty(n_members), np.full(n_members, np.inf)
    for cell in range(spans.size):
        spans[cell] = 1.0 / spans[cell]
    for _ in range(most_rounds):
        excess[:] = -share
        slope[:] = 0.0
        for cell in range(n_layers * n_rings):
            part = parts[cell]
            for member in range(n_members):
                inverse = spans[cell * n_members + member]
                passed = (guess[member] - temperature[cell * n_members + member]) * inverse + 0.5
                excess[member] += min(max(passed, 0.0), 1.0) * part
                slope[member] += inverse * part if 0.0 < passed < 1.0 else 0.0
        is_met = True
        for member in range(n_members):
            is_met = is_met and abs(excess[member]) < close
        if is_met:
            break
        for member in range(n_members):
            here = guess[member]
            if excess[member] > 0.0:
                highest[member] = here
            else:
                lowest[member] = here
            moved = here - excess[member] / max(slope[member], least_slope)
            is_sound = lowest[member] < moved < highest[member] and abs(excess[member]) < 0.5 * before[member]
            before[member] = abs(excess[member])
            if before[member] >= close:
                guess[member] = moved if is_sound else (lowest[member] + highest[member]) / 2.0


@compiled
def read_temperatures(energy, by_volume, constants, n_cells, n_members, temperature):
    """Compute the temperature of all cells."""
    for cell in range(n_cells):
        factor = by_volume[cell]
        energies = energy[cell * n_members : (cell + 1) * n_members]
        values = temperature[cell * n_members : (cell + 1) * n_members]
        for member in range(n_members):
            enthalpy, melting = energies[member] * factor, constants[6, member]
            frozen = (enthalpy if enthalpy < 0.0 else 0.0) / constants[7, member]
            freezing = enthalpy if enthalpy > 0.0 else 0.0
            freezing = (freezing if freezing < melting else melting) * constants[8, member]
            above = enthalpy - melting
            unfrozen = (above if above > 0.0 else 0.0) / constants[9, member]
            values[member] = constants[0, member] + frozen + freezing + unfrozen


@compiled
def read_surface(padded, temperature, conductance, depths, branches, outers, n_layers, n_rings, n_members, surface):
    """Compute how cold the wall's inside is."""
    stride, last = (n_rings + 1) * n_members, (n_rings - 1) * n_members
    for layer in range(n_layers):
        inner = padded[(layer + 1) * stride + last : (layer + 1) * stride + last + n_members]
        for member in range(n_members):
            place = layer * n_members + member
            flow = (outers[place] - inner[member]) / (conductance[place] * depths[place] + branches[place])
            surface[place] = temperature[place] - flow


@compiled
def read_shell(temperature, offset, surface, rows, inside, weights, n_rings, n_members, shell):
    """Compute the mean of the outer 2 cm in the middle third of the height."""
    width, n_points = n_rings * n_members, inside.shape[1]
    shell[:] = 0.0
    for row in range(rows.size):
        base, outside = rows[row] * width, rows[row] * n_members
        for point in range(n_points):
            depth, weight = inside[row, point], weights[row, point]
            for member in range(n_members):
                outer_place, outer_value = 0.0, surface[outside + member]
                value = outer_value
                for back in range(n_rings):
                    cell = base + (n_rings - 1 - back) * n_members + member
                    place = back + 0.5 - offset[cell]
                    value = temperature[cell]
                    if depth <= place:
                        gap = place - outer_place
                        part = (depth - outer_place) / (gap if gap > 1e-9 else 1e-9)
                        part = 0.0 if part < 0.0 else part
                        value = outer_value + (value - outer_value) * (part if part < 1.0 else 1.0)
                        break
                    outer_place, outer_value = place, value
                shell[member] += value * weight
