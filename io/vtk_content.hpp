// A data set in VTK's memory as a MeshContent.
#pragma once

#include "io/mesh_content.hpp"

#include <string>

class vtkPointSet;

namespace tidemark {

/// Points, cells and regions of an unstructured grid or polydata. Regions: the cell arrays (text,
/// or whole numbers of at most 1000 different values) whose name has region, group, physical,
/// part, name, material or solid in it; if there are none, all such arrays. A text is the name
/// of the set; a number n in an array a makes "a n" of surfaces, "a n lines" and "a n points".
/// All arrays with a name become element arrays as well, values of text aside. Labels are VTK's
/// numbers of points and cells, from 0. The file's name is for messages only. Throws InputError if
/// ids are out of range, a coordinate is not finite, a cell is no triangle or quadrilateral
/// (points, lines and volumes aside).
MeshContent vtk_content(vtkPointSet& data, const std::string& file_name);

} // namespace tidemark
