#!/usr/bin/python3
"""Makes the mesh files of this folder: needs gmsh, python3-vtk9. The files are kept in the
repository, so this is run only when a geometry changes."""
import subprocess
import vtk


def gmsh(geometry, target, *options):
    subprocess.run(["gmsh", "-2", geometry, "-o", target, *options], check=True,
                   stdout=subprocess.DEVNULL)


NAMES = ["", "wide", "narrow", "rib"]


def rib_plate():
    """The surface mesh of rib_plate.geo with the number of its surface for every triangle."""
    gmsh("rib_plate.geo", "rib_plate.tmp.vtk", "-setnumber", "Mesh.SaveAll", "1")
    reader = vtk.vtkUnstructuredGridReader()
    reader.SetFileName("rib_plate.tmp.vtk")
    reader.Update()
    read = reader.GetOutput()
    subprocess.run(["rm", "rib_plate.tmp.vtk"], check=True)
    number = read.GetCellData().GetArray("CellEntityIds")
    triangles, regions = vtk.vtkCellArray(), []
    for i in range(read.GetNumberOfCells()):
        if read.GetCellType(i) == vtk.VTK_TRIANGLE:
            triangles.InsertNextCell(read.GetCell(i))
            regions.append(int(number.GetTuple1(i)))
    return read.GetPoints(), triangles, regions


def region_arrays(data, regions, with_names):
    numbers = vtk.vtkIntArray()
    numbers.SetName("region")
    names = vtk.vtkStringArray()
    names.SetName("part_name")
    quality = vtk.vtkIntArray()
    quality.SetName("quality")
    for region in regions:
        numbers.InsertNextValue(region)
        names.InsertNextValue(NAMES[region])
        quality.InsertNextValue(5)
    data.GetCellData().AddArray(quality)
    data.GetCellData().AddArray(names if with_names else numbers)


def write(writer, data, name):
    writer.SetFileName(name)
    writer.SetInputData(data)
    writer.Write()


def write_obj(points, triangles, regions):
    ids = vtk.vtkIdList()
    with open("rib_plate.obj", "w", encoding="ascii") as file:
        file.write("# vertices of each face its own, as many programs write them\n")
        triangles.InitTraversal()
        for i, region in enumerate(regions):
            triangles.GetNextCell(ids)
            for corner in range(3):
                file.write("v %.12g %.12g %.12g\n" % points.GetPoint(ids.GetId(corner)))
            if i == 0 or regions[i - 1] != region:
                file.write("g %s%s\n" % (NAMES[region], " flat" if region < 3 else ""))
                file.write("usemtl %s\n" % ("mat" if region == 1 else "weave"))
            file.write("f %d %d %d\n" % (3 * i + 1, 3 * i + 2, 3 * i + 3))


def main():
    for name, version, binary in [("22", "2.2", 0), ("22_binary", "2.2", 1),
                                  ("41", "4.1", 0), ("41_binary", "4.1", 1)]:
        gmsh("rib_plate.geo", f"rib_plate_{name}.msh", "-setnumber", "Mesh.MshFileVersion", version,
             "-setnumber", "Mesh.Binary", str(binary))
    for name, version, incomplete in [("9node_22", "2.2", 0), ("8node_41", "4.1", 1)]:
        gmsh("quads.geo", f"quads_{name}.msh", "-order", "2",
             "-setnumber", "Mesh.MshFileVersion", version,
             "-setnumber", "Mesh.SecondOrderIncomplete", str(incomplete))
    gmsh("quads.geo", "quads_41.msh", "-setnumber", "Mesh.MshFileVersion", "4.1")

    points, triangles, regions = rib_plate()
    grid = vtk.vtkUnstructuredGrid()
    grid.SetPoints(points)
    grid.SetCells(vtk.VTK_TRIANGLE, triangles)
    region_arrays(grid, regions, with_names=False)
    write(vtk.vtkXMLUnstructuredGridWriter(), grid, "rib_plate.vtu")
    write(vtk.vtkUnstructuredGridWriter(), grid, "rib_plate.vtk")

    poly = vtk.vtkPolyData()
    poly.SetPoints(points)
    poly.SetPolys(triangles)
    region_arrays(poly, regions, with_names=True)
    ascii_writer = vtk.vtkXMLPolyDataWriter()
    ascii_writer.SetDataModeToAscii()
    write(ascii_writer, poly, "rib_plate.vtp")
    binary_writer = vtk.vtkPolyDataWriter()
    binary_writer.SetFileTypeToBinary()
    write(binary_writer, poly, "rib_plate_poly.vtk")
    write(vtk.vtkSTLWriter(), poly, "rib_plate_ascii.stl")
    stl = vtk.vtkSTLWriter()
    stl.SetFileTypeToBinary()
    write(stl, poly, "rib_plate.stl")
    write(vtk.vtkPLYWriter(), poly, "rib_plate.ply")
    write_obj(points, triangles, regions)


if __name__ == "__main__":
    main()
