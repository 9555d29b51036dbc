#!/usr/bin/env python3
"""Reads the VTK files of a run with meshio, which has nothing of VTK in it, and the series of frames
as plain XML: names, sizes, values, and NaN where resin never came.

    read_files.py PROGRAM CASE      CASE: cases/strip-with-cap/strip.toml

Exit code 77, and why, where meshio is missing."""

import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from pathlib import Path

try:
    import meshio
    import numpy
except ImportError as error:
    print(f"SKIPPED: {error}; scripts/setup installs python3-meshio for {sys.executable}")
    sys.exit(77)

TIME_LIMIT = 60.0  # [s]: the strip is then part full
POINT_DATA = {"fill_time", "pressure", "fill_fraction"}
CELL_DATA = {
    "region", "thickness", "porosity", "fibre_volume_fraction", "permeability_1", "permeability_2",
    "direction_1", "velocity",
}


def expect(condition, what):
    if not condition:
        sys.exit(f"FAILED: {what}")


def check_nan(points, time, name):
    """Resin has come exactly where a node has a time, and no later than now."""
    never = numpy.isnan(points["fill_time"])
    expect(numpy.all(points["fill_fraction"][never] < 1), f"{name}: full nodes without a time")
    expect(numpy.all(points["fill_fraction"][~never] > 0.5), f"{name}: dry nodes with a time")
    expect(numpy.all(points["fill_time"][~never] <= time * (1 + 1e-9)), f"{name}: times to come")
    expect(numpy.all(numpy.isfinite(points["pressure"])), f"{name}: pressures that are no numbers")
    return int(numpy.sum(~never))


def check_end_state(folder):
    mesh = meshio.read(folder / "fill.vtu")
    expect(set(mesh.point_data) == POINT_DATA | {"gate_index"}, f"point data {set(mesh.point_data)}")
    expect(set(mesh.cell_data) == CELL_DATA, f"cell data {set(mesh.cell_data)}")
    low, high = mesh.points.min(axis=0), mesh.points.max(axis=0)
    expect(numpy.allclose(low, [0, 0, 0]) and numpy.allclose(high, [1, 0.3, 0]),
           f"the strip is 1 m by 0.3 m, found {low} to {high}")
    cells = sum(len(block.data) for block in mesh.cells)
    for name, blocks in mesh.cell_data.items():
        values = numpy.concatenate(blocks)
        expect(len(values) == cells, f"{name} has {len(values)} values for {cells} cells")
        expect(numpy.all(numpy.isfinite(values)), f"{name} has values that are no numbers")
    expect(numpy.concatenate(mesh.cell_data["velocity"]).shape == (cells, 3), "velocity: no vectors")
    expect(numpy.all(numpy.concatenate(mesh.cell_data["region"]) == 0), "one region, number 0")
    expect(mesh.field_data["region_name:strip"][0] == 0, "the name of region 0")
    reached = check_nan(mesh.point_data, TIME_LIMIT, "fill.vtu")
    expect(0 < reached < len(mesh.points), f"{reached} of {len(mesh.points)} nodes reached")
    untouched = numpy.isnan(mesh.point_data["fill_time"])
    expect(numpy.all(mesh.point_data["gate_index"][untouched] == -1), "gate_index of dry nodes")
    return mesh, reached


def check_series(folder, end_state, reached_at_end):
    root = ElementTree.parse(folder / "front.pvd").getroot()
    expect(root.tag == "VTKFile" and root.get("type") == "Collection", "front.pvd is no collection")
    frames = root.findall("./Collection/DataSet")
    expect(len(frames) >= 3, f"front.pvd has {len(frames)} frames")
    before, reached_before = -1.0, 0
    for frame in frames:
        time, name = float(frame.get("timestep")), frame.get("file")
        expect(time > before, f"{name}: time {time} after {before}")
        mesh = meshio.read(folder / name)
        expect(set(mesh.point_data) == POINT_DATA, f"{name}: point data {set(mesh.point_data)}")
        expect(abs(mesh.field_data["TimeValue"][0] - time) <= 1e-9 * time, f"{name}: TimeValue")
        expect(numpy.array_equal(mesh.points, end_state.points), f"{name}: another mesh")
        reached = check_nan(mesh.point_data, time, name)
        expect(reached >= reached_before, f"{name}: the front went back")
        before, reached_before = time, reached
    expect(abs(before - TIME_LIMIT) <= 1e-6, f"the last frame is at {before} s")
    expect(reached_before == reached_at_end, "the last frame is not the end state")
    return len(frames)


def main():
    program, case = sys.argv[1:]
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "strip"
        run = subprocess.run(
            [program, "fill", case, "-o", folder, "--no-pictures", "--quiet", "--frames", "20",
             "--steps", "20", "--time-limit", f"{TIME_LIMIT} s"], check=False)
        expect(run.returncode == 1, f"exit code {run.returncode}, expected 1: it does not fill")
        end_state, reached = check_end_state(folder)
        frames = check_series(folder, end_state, reached)
        print(f"fill.vtu and {frames} frames read by meshio {meshio.__version__}")


main()
