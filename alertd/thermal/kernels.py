"""The steps of `scheme` and the readings of `root_zone`, compiled: the same arithmetic, cell by cell.

Imported only where numba is there. The arrays are the flat ones that `scheme` describes; each loop runs over the rings
and members of one layer at once, so that the compiler makes vector instructions of it. Coverage cannot look into
compiled code; a test compares it with the arithmetic of numpy.
"""
# mypy: disable-error-code="no-untyped-def,no-untyped-call,misc"

from __future__ import annotations

import numpy as np

from .fast_settings import compiled
from .root_zone import (
    CLOSE,
    FARTHER,
    FARTHEST,
    FIRST_REACH,
    LEAST_GAP,
    LEAST_MOVE,
    LEAST_SLOPE,
    LEAST_SPAN,
    MOST_ROUNDS,
    NEARER,
)
from .scheme import CERTAIN, NEAREST, NEAREST_WALL, SCALE, START

#: With fewer than one in so many members left, each is searched alone for its coldest share.
ALONE = 8


@compiled
def move_nodes(value, radial_of_move, radial, depths, moves, ring_widths, n_layers, n_rings, n_members):
    """Put the nodes of cells that are partly frozen to the freezing front."""
    width, stride = n_rings * n_members, (n_rings + 1) * n_members
    for layer in range(n_layers):
        base = layer * stride
        first = base + stride
        inside, outside = value[first : first + width], value[first + n_members : first + n_members + width]
        inward = value[first - n_members : first - n_members + width]
        move = moves[base : base + width]
        for place in range(width):
            from_half = inside[place] - 0.5
            from_end = 0.5 - abs(from_half)
            from_end = from_end if from_end < START else START
            move[place] = from_half * (from_end if from_end > 0.0 else 0.0)
        for place in range(n_members):  # at the axis there is no neighbour inward
            side = inside[place] - outside[place]
            side = side if side > -CERTAIN else -CERTAIN
            move[place] *= side if side < CERTAIN else CERTAIN
        later, inner, outer = move[n_members:], inward[n_members:], outside[n_members:]
        for place in range(width - n_members):
            side = inner[place] - outer[place]
            side = side if side > -CERTAIN else -CERTAIN
            later[place] *= side if side < CERTAIN else CERTAIN
        still = width - n_members
        faces, faces_still = radial[base : base + still], radial_of_move[base : base + still]
        for place in range(still):
            distance = later[place] - move[place] + SCALE
            faces[place] = faces_still[place] / (distance if distance > NEAREST * SCALE else NEAREST * SCALE)
        last, gaps = move[still:], depths[layer * n_members : (layer + 1) * n_members]
        for member in range(n_members):
            gap = 0.5 - last[member] / SCALE
            gaps[member] = (gap if gap > NEAREST_WALL else NEAREST_WALL) * ring_widths[layer]


@compiled
def meet_films(
    value, radial, axial, depths, acting, conducting, above_frozen, above_melting, conductivities,
    outers, resistings, n_layers, n_rings, n_members,
):  # fmt: skip
    """Find the flux variable and the conductance by which films act on the cells at the surfaces."""
    stride, last = (n_rings + 1) * n_members, (n_rings - 1) * n_members
    for row in range(n_layers + 2 * n_rings):
        if row < n_layers:
            cell = (row + 1) * stride + last
            target, face, faces = cell + n_members, row * stride + last, radial
        elif row < n_layers + n_rings:
            cell = n_layers * stride + (row - n_layers) * n_members
            target, face, faces = cell + stride, cell, axial
        else:
            ring = (row - n_layers - n_rings) * n_members
            cell, target, face, faces = stride + ring, ring, ring, axial
        for member in range(n_members):
            place = row * n_members + member
            inward, here = conducting[place] * depths[place], value[cell + member]
            branch, outer = conductivities[1][member], 0.0
            if here + inward * above_frozen[place] < 0.0:
                branch = conductivities[0][member]
            outer = above_frozen[place] * branch
            if here + inward * above_melting[place] > 1.0:
                branch = conductivities[2][member]
                outer = above_melting[place] * branch + 1.0
            outers[place], resistings[place] = outer, inward + branch
            value[target + member] = outer
            faces[face + member] = acting[place] / (inward + branch)


@compiled
def make_step(
    value, state, change, radial, axial, weight, freezing, unfrozen, lowered, n_stages, n_layers, n_rings, n_members
):  # fmt: skip
    """Make one step with conductances as they are; those of `radial` stand at the inner faces of its places."""
    width, stride = n_rings * n_members, (n_rings + 1) * n_members
    size = 2.0 / (n_stages * n_stages + n_stages)
    for stage in range(1, n_stages + 1):
        kept, share, part = (0.0 if stage == 1 else 1.0), size * (2 * stage - 1), 1.0 / stage
        for layer in range(n_layers):
            base = layer * stride
            first = base + stride
            here, weights = value[first : first + width], weight[base : base + width]
            outside, inward = value[first + n_members :][:width], value[first - n_members :][:width]
            above, below = value[first + stride :][:width], value[base : base + width]
            upper, lower = axial[first : first + width], axial[base : base + width]
            outer, inner = radial[base + n_members :][:width], radial[base : base + width]
            changes, states = change[base : base + width], state[base : base + width]
            for place in range(width):
                middle = here[place]
                net = (
                    (outside[place] - middle) * outer[place]
                    - (middle - inward[place]) * inner[place]
                    + (above[place] - middle) * upper[place]
                    - (middle - below[place]) * lower[place]
                )
                new = kept * changes[place] + net * weights[place] * share
                changes[place] = new
                states[place] += new * part
        evaluate(value, state, freezing, unfrozen, lowered, n_layers, n_rings, n_members)


@compiled
def evaluate(value, state, freezing, unfrozen, lowered, n_layers, n_rings, n_members):
    """Compute the flux variable of all cells from their enthalpy."""
    width, stride = n_rings * n_members, (n_rings + 1) * n_members
    for layer in range(n_layers):
        values = value[(layer + 1) * stride : (layer + 1) * stride + width]
        states = state[layer * stride : layer * stride + width]
        for place in range(width):
            frozen = states[place]
            melting = frozen * freezing[place]
            melted = frozen * unfrozen[place] - lowered[place]
            lower = frozen if frozen < melting else melting
            values[place] = lower if lower > melted else melted


@compiled
def lowest_of(state, lowest, n_layers, n_rings, n_members):
    """Return the least enthalpy of all cells."""
    stride = (n_rings + 1) * n_members
    lowest[:] = state[:stride]
    for layer in range(1, n_layers):
        states = state[layer * stride : (layer + 1) * stride]
        for place in range(stride):
            lowest[place] = states[place] if states[place] < lowest[place] else lowest[place]
    return lowest.min()


@compiled
def read_temperatures(state, frozen, freezing, unfrozen, lowered, n_layers, n_rings, n_members, warmth):
    """Compute the temperature of all cells, and put beside those at the ends what they have themselves."""
    width, stride = n_rings * n_members, (n_rings + 1) * n_members
    for layer in range(n_layers):
        values = warmth[(layer + 1) * stride : (layer + 1) * stride + width]
        states = state[layer * stride : layer * stride + width]
        for place in range(width):
            cold, melting = states[place] * frozen[place], states[place] * freezing[place]
            melted = states[place] * unfrozen[place] - lowered[place]
            lower = cold if cold < melting else melting
            values[place] = lower if lower > melted else melted
    warmth[:stride] = warmth[stride : 2 * stride]
    warmth[(n_layers + 1) * stride :] = warmth[n_layers * stride : (n_layers + 1) * stride]


@compiled
def read_surface(
    value, outers, resistings, above_frozen, melting_flux, n_layers, n_rings, n_members, surface
):  # fmt: skip
    """Compute how cold the wall's inside is."""
    stride, last = (n_rings + 1) * n_members, (n_rings - 1) * n_members
    for layer in range(n_layers):
        inner = value[(layer + 1) * stride + last : (layer + 1) * stride + last + n_members]
        for member in range(n_members):
            place = layer * n_members + member
            flow = (outers[place] - inner[member]) / resistings[place]
            surface[place] = (above_frozen[place] - flow) * melting_flux[member]


@compiled
def read_shell(warmth, moves, surface, first_row, points, weights, n_reached, n_rings, n_members, shell):
    """Compute the mean of the outer 2 cm in the middle third of the height."""
    stride = (n_rings + 1) * n_members
    profile = np.empty(n_members)
    shell[:] = 0.0
    for number in range(points.shape[0]):
        row = first_row + number
        for point in range(points.shape[1]):
            depth, weight = points[number, point], weights[number, point]
            profile[:] = surface[row * n_members : (row + 1) * n_members]
            for back in range(n_reached):
                ring = (n_rings - 1 - back) * n_members
                values = warmth[(row + 1) * stride + ring : (row + 1) * stride + ring + n_members]
                move = moves[row * stride + ring : row * stride + ring + n_members]
                outer_values, outer_moves = values, move  # of the ring before, if there is one
                if back > 0:
                    outer_values = warmth[
                        (row + 1) * stride + ring + n_members : (row + 1) * stride + ring + 2 * n_members
                    ]
                    outer_moves = moves[row * stride + ring + n_members : row * stride + ring + 2 * n_members]
                for member in range(n_members):
                    place, outer_place = back + 0.5 - move[member] / SCALE, 0.0
                    outer_value = surface[row * n_members + member]
                    if back > 0:
                        outer_place = back - 0.5 - outer_moves[member] / SCALE
                        outer_value = outer_values[member]
                    gap, beyond = place - outer_place, depth - outer_place
                    beyond = beyond if beyond > 0.0 else 0.0
                    beyond = beyond if beyond < gap else gap
                    profile[member] += (values[member] - outer_value) / (gap if gap > LEAST_GAP else LEAST_GAP) * beyond
            for member in range(n_members):
                shell[member] += profile[member] * weight


@compiled
def spread_cells(warmth, moves, radial, surface, spreading, sizes, middles, inverses):
    """Compute the temperature in the middle of each cell, and the inverse of what it spans."""
    half_by_still, move_by_still, centres = spreading
    n_layers, n_rings, n_members = sizes
    stride, inner = (n_rings + 1) * n_members, np.empty(n_members)
    for layer in range(n_layers):
        inner[:] = warmth[(layer + 1) * stride : (layer + 1) * stride + n_members]
        for ring in range(n_rings):
            base, centre = layer * stride + ring * n_members, centres[ring]
            first, cell = base + stride, (layer * n_rings + ring) * n_members
            here, beyond = warmth[first : first + n_members], warmth[first + n_members : first + 2 * n_members]
            above, below = warmth[first + stride : first + stride + n_members], warmth[base : base + n_members]
            halves, by_move = half_by_still[base : base + n_members], move_by_still[base : base + n_members]
            move, faces = moves[base : base + n_members], radial[base : base + n_members]
            walls = surface[layer * n_members : (layer + 1) * n_members]
            middle, inverse = middles[cell : cell + n_members], inverses[cell : cell + n_members]
            is_wall = ring == n_rings - 1
            for member in range(n_members):
                outer = (beyond[member] - here[member]) * (
                    (halves[member] - move[member] * by_move[member]) * faces[member]
                )
                outer = walls[member] if is_wall else outer + here[member]
                across = outer - inner[member]
                span = abs(across) + abs(0.5 * (above[member] - below[member]))
                middle[member] = inner[member] + across * centre
                inverse[member] = 1.0 / (span if span > LEAST_SPAN else LEAST_SPAN)
                inner[member] = outer


@compiled
def sum_frozen(middles, inverses, parts, limit, n_members, frozen):
    """Compute the share of the volume below a limit."""
    frozen[:] = 0.0
    for cell in range(parts.size):
        part, base = parts[cell], cell * n_members
        middle, inverse = middles[base : base + n_members], inverses[base : base + n_members]
        for member in range(n_members):
            passed = (limit[member] - middle[member]) * inverse[member] + 0.5
            passed = passed if passed > 0.0 else 0.0
            frozen[member] += (passed if passed < 1.0 else 1.0) * part


@compiled
def find_coldest(middles, inverses, parts, share, n_members, guess):
    """Go from a guess to the temperature below which the share of the volume lies, as `root_zone.Probe` does."""
    excess, slope, before = np.empty(n_members), np.empty(n_members), np.full(n_members, np.inf)
    low, high = np.full(n_members, -np.inf), np.full(n_members, np.inf)
    is_open, n_open, reach = np.ones(n_members, dtype=np.bool_), n_members, FIRST_REACH
    for _ in range(MOST_ROUNDS):
        if ALONE * n_open >= n_members:
            sum_passed(middles, inverses, parts, guess, n_members, excess, slope)
        else:
            for member in range(n_members):
                if is_open[member]:
                    sum_alone(middles, inverses, parts, guess[member], member, n_members, excess, slope)
        n_open = 0
        for member in range(n_members):
            if is_open[member]:
                here, error = guess[member], abs(excess[member] - share)
                if excess[member] > share:
                    high[member] = here
                else:
                    low[member] = here
                step = (share - excess[member]) / (slope[member] if slope[member] > LEAST_SLOPE else LEAST_SLOPE)
                is_sound = low[member] < here + step < high[member] and error < NEARER * before[member]
                before[member] = error
                is_open[member] = error >= CLOSE
                if is_sound and abs(step) < FARTHEST * reach:
                    guess[member] = here + step
                elif is_open[member]:
                    if high[member] == np.inf:
                        guess[member] = here + reach
                    elif low[member] == -np.inf:
                        guess[member] = here - reach
                    else:
                        guess[member] = (low[member] + high[member]) / 2.0
                n_open += is_open[member]
        if n_open == 0:
            break
        reach *= FARTHER


@compiled
def sum_passed(middles, inverses, parts, guess, n_members, passed, rising):
    """Compute for all members the share of the volume below a guess, and how fast it rises."""
    passed[:] = 0.0
    rising[:] = 0.0
    for cell in range(parts.size):
        part, base = parts[cell], cell * n_members
        middle, inverse = middles[base : base + n_members], inverses[base : base + n_members]
        for member in range(n_members):
            through = (guess[member] - middle[member]) * inverse[member] + 0.5
            clipped = through if through > 0.0 else 0.0
            clipped = clipped if clipped < 1.0 else 1.0
            passed[member] += clipped * part
            rising[member] += inverse[member] * part if clipped == through else 0.0


@compiled
def sum_alone(middles, inverses, parts, guess, member, n_members, passed, rising):
    """Do the same for one member."""
    below, slope = 0.0, 0.0
    for cell in range(parts.size):
        place = cell * n_members + member
        through = (guess - middles[place]) * inverses[place] + 0.5
        if through >= 1.0:
            below += parts[cell]
        elif through > 0.0:
            below += through * parts[cell]
            slope += inverses[place] * parts[cell]
    passed[member], rising[member] = below, slope


@compiled
def take_films(temperatures, conductances, hour, areas, medium, above_frozen, above_melting, conducting, acting, sizes):
    """Spread the films of an hour over the surfaces; return whether none of them freezes anything."""
    n_layers, n_rings, n_members = sizes
    frozen_below, freezing_point, melting_flux = medium[0], medium[1], medium[2]
    row, is_warm = 0, True
    for film in range(3):
        degrees, conductance = temperatures[film, hour], conductances[film, hour]
        for member in range(n_members):
            is_warm = is_warm and degrees[member] >= freezing_point[member]
        for _ in range(n_layers if film == 0 else n_rings):
            base = row * n_members
            for member in range(n_members):
                by_melting = 1.0 / melting_flux[member]
                above_frozen[base + member] = (degrees[member] - frozen_below[member]) * by_melting
                above_melting[base + member] = (degrees[member] - freezing_point[member]) * by_melting
                conducting[base + member] = conductance[member]
                acting[base + member] = areas[row] * conductance[member]
            row += 1
    return is_warm


@compiled
def make_hour(cells, lines, surfaces, conductivities, nearly_frozen, lowest, stages, n_steps, sizes, is_mild, is_still):
    """Go on by an hour; leave the films as they act at its end."""
    value, state, change, radial_of_move, faces, axial, weight, moves = cells
    depths, ring_widths, acting, conducting, above_frozen, above_melting, outers, resistings = surfaces
    n_layers, n_rings, n_members = sizes
    radial = faces[n_members:]
    for number in range(n_steps + 1):
        if not is_mild or number == 0:
            meet_films(
                value, radial, axial, depths, acting, conducting, above_frozen, above_melting, conductivities,
                outers, resistings, n_layers, n_rings, n_members,
            )  # fmt: skip
        if number == 0 and is_still and not is_mild:
            move_nodes(value, radial_of_move, radial, depths, moves, ring_widths, n_layers, n_rings, n_members)
            meet_films(
                value, radial, axial, depths, acting, conducting, above_frozen, above_melting, conductivities,
                outers, resistings, n_layers, n_rings, n_members,
            )  # fmt: skip
        if number < n_steps:
            n_stages = stages[1]
            if not is_mild and lowest_of(state, lowest, n_layers, n_rings, n_members) < nearly_frozen:
                n_stages = stages[0]
            make_step(
                value, state, change, faces, axial, weight, *lines, n_stages, n_layers, n_rings, n_members
            )  # fmt: skip
            if not is_mild:
                move_nodes(value, radial_of_move, radial, depths, moves, ring_widths, n_layers, n_rings, n_members)


@compiled
def is_all_melted(state, melted, n_layers, n_rings, n_members):
    """Return whether no cell has any ice."""
    for layer in range(n_layers):
        for ring in range(n_rings):
            base = (layer * (n_rings + 1) + ring) * n_members
            for member in range(n_members):
                if state[base + member] < melted[member]:
                    return False
    return True


@compiled
def solve_hours(
    films, areas, still, cells, lines, surfaces, conductivities, medium, nearly_frozen, stages, n_steps, sizes,
    reading_lines, warmth, spreading, shell_points, core_place, parts, limit, share, shell, core, coldest, frozen,
):  # fmt: skip
    """Go through all hours; fill in what is to be known at the end of each, above where the last water has frozen."""
    temperatures, conductances = films
    radial_still, depths_still = still
    n_layers, n_rings, n_members = sizes
    value, state, faces, moves = cells[0], cells[1], cells[4], cells[7]
    radial = faces[sizes[2] :]
    depths, _, acting, conducting, above_frozen, above_melting, outers, resistings = surfaces
    first_row, points, weights, n_reached = shell_points
    upper, core_weight = core_place
    stride = (n_rings + 1) * n_members
    lowest, surface = np.empty(stride), np.empty(n_layers * n_members)
    middles, inverses = np.empty(n_layers * n_rings * n_members), np.empty(n_layers * n_rings * n_members)
    follows = np.zeros(n_members)
    is_still = True
    evaluate(value, state, *lines, n_layers, n_rings, n_members)
    for hour in range(temperatures.shape[1]):
        is_warm = take_films(
            temperatures, conductances, hour, areas, medium, above_frozen, above_melting, conducting, acting, sizes
        )
        is_mild = is_warm and is_all_melted(state, medium[3], n_layers, n_rings, n_members)
        if is_mild and not is_still:
            radial[:] = radial_still
            depths[:] = depths_still
            moves[:] = 0.0
            is_still = True
        stages_now = (stages[0, hour], stages[1, hour])
        make_hour(
            cells,
            lines,
            surfaces,
            conductivities,
            nearly_frozen,
            lowest,
            stages_now,
            n_steps,
            sizes,
            is_mild,
            is_still,
        )
        is_still = is_mild
        read_surface(value, outers, resistings, above_frozen, medium[2], n_layers, n_rings, n_members, surface)
        read_temperatures(state, *reading_lines, n_layers, n_rings, n_members, warmth)
        read_shell(warmth, moves, surface, first_row, points, weights, n_reached, n_rings, n_members, shell[hour])
        for member in range(n_members):
            below, above = warmth[upper * stride + member], warmth[(upper + 1) * stride + member]
            core[hour, member] = below + core_weight * (above - below)
            before = max(hour - 1, 0)
            moved = (shell[hour, member] - shell[before, member]) if hour > 0 else shell[hour, member]
            coldest[hour, member] = (coldest[before, member] if hour > 0 else 0.0) + follows[member] * moved
        spread_cells(warmth, moves, radial, surface, spreading, sizes, middles, inverses)
        sum_frozen(middles, inverses, parts, limit, n_members, frozen[hour])
        find_coldest(middles, inverses, parts, share, n_members, coldest[hour])
        for member in range(n_members):
            moved = shell[hour, member] - (shell[hour - 1, member] if hour > 0 else 0.0)
            followed = coldest[hour, member] - (coldest[hour - 1, member] if hour > 0 else 0.0)
            follow = followed / moved if abs(moved) >= LEAST_MOVE else 0.0
            follow = follow if follow > 0.0 else 0.0
            follows[member] = follow if follow < 1.0 else 1.0
