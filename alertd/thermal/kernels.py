"""The steps of `scheme` and the readings of `root_zone`, compiled: the same arithmetic, cell by cell.

Imported only where numba is there. The arrays are the flat ones that `scheme` describes; each loop runs over the rings
and members of one layer at once, so that the compiler makes vector instructions of it. Coverage cannot look into
compiled code; a test compares it with the arithmetic of numpy.
"""
# mypy: disable-error-code="no-untyped-def,no-untyped-call,misc"

from __future__ import annotations

import numpy as np

from .fast_settings import (
    CERTAIN,
    CLOSE,
    LEAST_GAP,
    LEAST_SLOPE,
    LEAST_SPAN,
    MOST_ROUNDS,
    NEAREST,
    NEAREST_WALL,
    START,
    compiled,
)


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
            fraction = inside[place] if inside[place] > 0.0 else 0.0
            moved = (fraction if fraction < 1.0 else 1.0) - 0.5
            near = 0.5 / START - abs(moved) * (1.0 / START)
            move[place] = moved * (near if near < 1.0 else 1.0)
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
            distance = later[place] - move[place] + CERTAIN
            faces[place] = faces_still[place] / (distance if distance > NEAREST * CERTAIN else NEAREST * CERTAIN)
        last, gaps = move[still:], depths[layer * n_members : (layer + 1) * n_members]
        for member in range(n_members):
            gap = 0.5 - last[member] / CERTAIN
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
    """Make one step with conductances as they are."""
    width, stride = n_rings * n_members, (n_rings + 1) * n_members
    flow = np.empty(width)
    size = 2.0 / (n_stages * n_stages + n_stages)
    for stage in range(1, n_stages + 1):
        kept, share, part = (0.0 if stage == 1 else 1.0), size * (2 * stage - 1), 1.0 / stage
        for layer in range(n_layers):
            base = layer * stride
            first = base + stride
            inside, outside = value[first : first + width], value[first + n_members : first + n_members + width]
            above, below = value[first + stride : first + stride + width], value[base : base + width]
            upper, lower = axial[first : first + width], axial[base : base + width]
            faces, weights = radial[base : base + width], weight[base : base + width]
            changes, states = change[base : base + width], state[base : base + width]
            flows = flow[:width]
            for place in range(width):
                flows[place] = (outside[place] - inside[place]) * faces[place]
            for place in range(n_members):
                here = inside[place]
                net = flows[place] + (above[place] - here) * upper[place] - (here - below[place]) * lower[place]
                changes[place] = kept * changes[place] + net * weights[place] * share
                states[place] += changes[place] * part
            inside, above, below, upper = inside[n_members:], above[n_members:], below[n_members:], upper[n_members:]
            lower, changes, states = lower[n_members:], changes[n_members:], states[n_members:]
            weights, outward = weights[n_members:], flows[n_members:]
            for place in range(width - n_members):
                here = inside[place]
                net = (
                    outward[place]
                    - flows[place]
                    + (above[place] - here) * upper[place]
                    - (here - below[place]) * lower[place]
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
def read_temperatures(state, frozen, freezing, unfrozen, lowered, surface, n_layers, n_rings, n_members, warmth):
    """Compute the temperature of all cells, and put beside those at surfaces what makes their gradients right."""
    width, stride = n_rings * n_members, (n_rings + 1) * n_members
    for layer in range(n_layers):
        values = warmth[(layer + 1) * stride : (layer + 1) * stride + width]
        states = state[layer * stride : layer * stride + width]
        for place in range(width):
            cold, melting = states[place] * frozen[place], states[place] * freezing[place]
            melted = states[place] * unfrozen[place] - lowered[place]
            lower = cold if cold < melting else melting
            values[place] = lower if lower > melted else melted
        beyond = (layer + 1) * stride + width
        for member in range(n_members):
            warmth[beyond + member] = 2.0 * surface[layer * n_members + member] - values[width - n_members + member]
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
                    outer_values = warmth[(row + 1) * stride + ring + n_members : (row + 1) * stride + ring + 2 * n_members]
                    outer_moves = moves[row * stride + ring + n_members : row * stride + ring + 2 * n_members]
                for member in range(n_members):
                    place, outer_place = back + 0.5 - move[member] / CERTAIN, 0.0
                    outer_value = surface[row * n_members + member]
                    if back > 0:
                        outer_place = back - 0.5 - outer_moves[member] / CERTAIN
                        outer_value = outer_values[member]
                    gap, beyond = place - outer_place, depth - outer_place
                    beyond = beyond if beyond > 0.0 else 0.0
                    beyond = beyond if beyond < gap else gap
                    profile[member] += (values[member] - outer_value) / (gap if gap > LEAST_GAP else LEAST_GAP) * beyond
            for member in range(n_members):
                shell[member] += profile[member] * weight


@compiled
def read_shares(
    warmth, parts, limit, share, guess, n_layers, n_rings, n_members, spans, frozen
):  # fmt: skip
    """Return into `guess` the coldest share, from a first guess or NaN; into `frozen` the share below the limit."""
    stride = (n_rings + 1) * n_members
    frozen[:] = 0.0
    lowest, highest, widest = np.inf, -np.inf, 0.0
    for layer in range(n_layers):
        for ring in range(n_rings):
            base, cell = layer * stride + ring * n_members, layer * (n_rings + 1) + ring
            first = base + stride
            here, outer = warmth[first : first + n_members], warmth[first + n_members : first + 2 * n_members]
            inner = here if ring == 0 else warmth[first - n_members : first]
            above = warmth[first + stride : first + stride + n_members]
            below, spanning = warmth[base : base + n_members], spans[base : base + n_members]
            part = parts[cell]
            for member in range(n_members):
                across = abs(outer[member] - inner[member]) + abs(above[member] - below[member])
                across = across if across > 2.0 * LEAST_SPAN else 2.0 * LEAST_SPAN
                inverse = 2.0 / across
                spanning[member] = inverse
                passed = (limit[member] - here[member]) * inverse + 0.5
                passed = passed if passed > 0.0 else 0.0
                frozen[member] += (passed if passed < 1.0 else 1.0) * part
                widest = across if across > widest else widest
                lowest = here[member] if here[member] < lowest else lowest
                highest = here[member] if here[member] > highest else highest
    lowest, highest = lowest - widest, highest + widest
    low, high = np.full(n_members, lowest), np.full(n_members, highest)
    for member in range(n_members):
        start = guess[member]
        start = (lowest + highest) / 2.0 if np.isnan(start) else start
        start = start if start > lowest else lowest
        guess[member] = start if start < highest else highest
    find_share(
        warmth, parts, share, guess, low, high, n_layers, n_rings, n_members, spans
    )  # fmt: skip


@compiled
def find_share(warmth, parts, share, guess, low, high, n_layers, n_rings, n_members, spans):
    """Go from a guess to where the share below it is met, by Newton's rule in a bracket."""
    stride = (n_rings + 1) * n_members
    excess, slope, before = np.empty(n_members), np.empty(n_members), np.full(n_members, np.inf)
    is_open = np.ones(n_members, dtype=np.bool_)
    n_open = n_members
    for _ in range(MOST_ROUNDS):
        if 2 * n_open < n_members:  # those that are left, one by one
            for member in range(n_members):
                if is_open[member]:
                    excess[member], slope[member] = share_of(
                        warmth, parts, spans, guess[member], member, n_layers, n_rings, n_members
                    )
                    excess[member] -= share
        else:
            excess[:] = -share
            slope[:] = 0.0
            for layer in range(n_layers):
                for ring in range(n_rings):
                    base, part = layer * stride + ring * n_members, parts[layer * (n_rings + 1) + ring]
                    here, inverse = warmth[base + stride : base + stride + n_members], spans[base : base + n_members]
                    for member in range(n_members):
                        passed = (guess[member] - here[member]) * inverse[member] + 0.5
                        clipped = passed if passed > 0.0 else 0.0
                        clipped = clipped if clipped < 1.0 else 1.0
                        excess[member] += clipped * part
                        slope[member] += inverse[member] * part if clipped == passed else 0.0
        n_open = 0
        for member in range(n_members):
            if is_open[member]:
                here_now, error = guess[member], abs(excess[member])
                if excess[member] > 0.0:
                    high[member] = here_now
                else:
                    low[member] = here_now
                step = here_now - excess[member] / max(slope[member], LEAST_SLOPE)
                is_open[member] = error >= CLOSE
                if low[member] < step < high[member] and error < 0.5 * before[member]:
                    guess[member] = step
                elif is_open[member]:
                    guess[member] = (low[member] + high[member]) / 2.0
                before[member] = error
                n_open += is_open[member]
        if n_open == 0:
            break


@compiled
def share_of(warmth, parts, spans, guess, member, n_layers, n_rings, n_members):
    """Return the share of one member's volume below a guess, and by how much it rises [1/K]."""
    stride, below, slope = (n_rings + 1) * n_members, 0.0, 0.0
    for layer in range(n_layers):
        for ring in range(n_rings):
            place, part = layer * stride + ring * n_members + member, parts[layer * (n_rings + 1) + ring]
            passed = (guess - warmth[place + stride]) * spans[place] + 0.5
            below += part if passed >= 1.0 else (passed * part if passed > 0.0 else 0.0)
            slope += spans[place] * part if 0.0 < passed < 1.0 else 0.0
    return below, slope


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
    value, state, change, radial_of_move, radial, axial, weight, moves = cells
    depths, ring_widths, acting, conducting, above_frozen, above_melting, outers, resistings = surfaces
    n_layers, n_rings, n_members = sizes
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
                value, state, change, radial, axial, weight, *lines, n_stages, n_layers, n_rings, n_members
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
    reading_lines, warmth, spans, shell_points, core_place, parts, limit, share, shell, core, coldest, frozen,
):  # fmt: skip
    """Go through all hours; fill in what is to be known at the end of each, above where the last water has frozen."""
    temperatures, conductances = films
    radial_still, middles = still
    n_layers, n_rings, n_members = sizes
    value, state, radial, moves = cells[0], cells[1], cells[4], cells[7]
    depths, _, acting, conducting, above_frozen, above_melting, outers, resistings = surfaces
    first_row, points, weights, n_reached = shell_points
    upper, core_weight = core_place
    stride = (n_rings + 1) * n_members
    lowest, surface = np.empty(stride), np.empty(n_layers * n_members)
    guess, guess_before = np.full(n_members, np.nan), np.full(n_members, np.nan)
    is_still = True
    evaluate(value, state, *lines, n_layers, n_rings, n_members)
    for hour in range(temperatures.shape[1]):
        is_warm = take_films(
            temperatures, conductances, hour, areas, medium, above_frozen, above_melting, conducting, acting, sizes
        )
        is_mild = is_warm and is_all_melted(state, medium[3], n_layers, n_rings, n_members)
        if is_mild and not is_still:
            radial[:] = radial_still
            depths[:] = middles
            moves[:] = 0.0
            is_still = True
        stages_now = (stages[0, hour], stages[1, hour])
        make_hour(
            cells, lines, surfaces, conductivities, nearly_frozen, lowest, stages_now, n_steps, sizes,
            is_mild, is_still,
        )
        is_still = is_mild
        read_surface(value, outers, resistings, above_frozen, medium[2], n_layers, n_rings, n_members, surface)
        read_temperatures(state, *reading_lines, surface, n_layers, n_rings, n_members, warmth)
        read_shell(warmth, moves, surface, first_row, points, weights, n_reached, n_rings, n_members, shell[hour])
        for member in range(n_members):
            below, above = warmth[upper * stride + member], warmth[(upper + 1) * stride + member]
            core[hour, member] = below + core_weight * (above - below)
            coldest[hour, member] = 2.0 * guess[member] - guess_before[member]
        read_shares(
            warmth, parts, limit, share, coldest[hour], n_layers, n_rings, n_members, spans, frozen[hour]
        )  # fmt: skip
        guess_before[:] = guess
        guess[:] = coldest[hour]
