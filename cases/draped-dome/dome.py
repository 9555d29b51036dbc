#!/usr/bin/env python3
"""Writes dome.vtk: a spherical cap with a flat flange, and the thickness of the cavity on every element.

Lengths in mm. Parts, named by the cell data "part": the surfaces "dome" and "flange", the lines "rim" and
"foot", the point "crown".
"""
from math import cos, hypot, pi, sin
from pathlib import Path
import sys

RADIUS = 160.0  # of the sphere
OPENING = 70 * pi / 180  # from the crown to the foot, seen from the middle of the sphere
OUTER = 230.0  # radius of the flange
DOME_THICKNESS = 3.0
RIM_THICKNESS = 5.0  # of the flange, which is as thick as the dome at its foot


def main(rings, flange_rings):
    foot = RADIUS * sin(OPENING)
    low = RADIUS * cos(OPENING)
    points = [(0.0, 0.0, RADIUS)]
    first = [0]  # the first point of each ring
    for ring in range(1, rings + 1):
        arc = OPENING * ring / rings
        first.append(len(points))
        for k in range(6 * ring):
            turn = 2 * pi * k / (6 * ring)
            points.append((RADIUS * sin(arc) * cos(turn), RADIUS * sin(arc) * sin(turn), RADIUS * cos(arc)))
    around = 6 * rings
    for ring in range(1, flange_rings + 1):
        radius = foot + (OUTER - foot) * ring / flange_rings
        first.append(len(points))
        for k in range(around):
            turn = 2 * pi * (k + 0.5 * (ring % 2)) / around
            points.append((radius * cos(turn), radius * sin(turn), low))

    cells = [((0,), "crown")]
    foot_ring, rim_ring = first[rings], first[-1]
    for start, name in ((foot_ring, "foot"), (rim_ring, "rim")):
        cells += [((start + k, start + (k + 1) % around), name) for k in range(around)]
    for ring in range(1, rings + 1):
        inner, outer, count = first[ring - 1], first[ring], max(1, 6 * (ring - 1))
        for side in range(6):
            for k in range(ring):
                a = outer + side * ring + k
                b = outer + (side * ring + k + 1) % (6 * ring)
                c = inner + (side * (ring - 1) + k) % count
                cells.append(((a, b, c), "dome"))
                if k > 0:
                    cells.append(((a, c, inner + (side * (ring - 1) + k - 1) % count), "dome"))
    for ring in range(flange_rings):
        inner, outer = first[rings + ring], first[rings + ring + 1]
        for k in range(around):
            following = (k + 1) % around
            if ring % 2 == 0:
                cells.append(((inner + k, outer + k, inner + following), "flange"))
                cells.append(((inner + following, outer + k, outer + following), "flange"))
            else:
                cells.append(((inner + k, outer + k, outer + following), "flange"))
                cells.append(((inner + k, outer + following, inner + following), "flange"))

    def thickness(nodes, part):
        if part != "flange":
            return DOME_THICKNESS
        x, y = (sum(points[n][i] for n in nodes) / len(nodes) for i in (0, 1))
        return DOME_THICKNESS + (RIM_THICKNESS - DOME_THICKNESS) * (hypot(x, y) - foot) / (OUTER - foot)

    kind = {1: 1, 2: 3, 3: 5}  # VTK's numbers for a point, a line and a triangle
    with open(Path(__file__).with_name("dome.vtk"), "w", newline="\n") as out:
        out.write("# vtk DataFile Version 3.0\nDome with a flange\nASCII\nDATASET UNSTRUCTURED_GRID\n")
        out.write(f"POINTS {len(points)} double\n")
        out.writelines("%.7g %.7g %.7g\n" % point for point in points)
        out.write(f"CELLS {len(cells)} {sum(len(nodes) + 1 for nodes, _ in cells)}\n")
        out.writelines(" ".join(map(str, (len(nodes), *nodes))) + "\n" for nodes, _ in cells)
        out.write(f"CELL_TYPES {len(cells)}\n")
        out.writelines(f"{kind[len(nodes)]}\n" for nodes, _ in cells)
        out.write(f"CELL_DATA {len(cells)}\nFIELD fields 2\nthickness 1 {len(cells)} double\n")
        out.writelines("%.6g\n" % thickness(nodes, part) for nodes, part in cells)
        out.write(f"part 1 {len(cells)} string\n")
        out.writelines(part + "\n" for _, part in cells)


if __name__ == "__main__":
    main(*(map(int, sys.argv[1:3]) if len(sys.argv) > 2 else (30, 14)))
