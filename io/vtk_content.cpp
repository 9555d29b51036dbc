#include "io/vtk_content.hpp"

#include "io/msh_cursor.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <vtkAbstractArray.h>
#include <vtkCellArray.h>
#include <vtkCellData.h>
#include <vtkCellType.h>
#include <vtkDataArray.h>
#include <vtkPointData.h>
#include <vtkPointSet.h>
#include <vtkPoints.h>
#include <vtkPolyData.h>
#include <vtkStringArray.h>
#include <vtkTypeInt64Array.h>
#include <vtkUnsignedCharArray.h>
#include <vtkUnstructuredGrid.h>
#include <vtkVariant.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <span>
#include <utility>

namespace tidemark {

namespace {

constexpr std::size_t most_regions = 1000;

struct CellKind {
  int type;
  int dimension;
  std::size_t corners; // 0: as many as the cell has nodes
  std::size_t nodes;   // 0: any number
};

constexpr std::array<CellKind, 13> flat_kinds{{{VTK_VERTEX, 0, 1, 1},
                                               {VTK_POLY_VERTEX, 0, 0, 0},
                                               {VTK_LINE, 1, 2, 2},
                                               {VTK_POLY_LINE, 1, 0, 0},
                                               {VTK_QUADRATIC_EDGE, 1, 2, 3},
                                               {VTK_TRIANGLE, 2, 3, 3},
                                               {VTK_POLYGON, 2, 0, 0},
                                               {VTK_PIXEL, 2, 4, 4},
                                               {VTK_QUAD, 2, 4, 4},
                                               {VTK_QUADRATIC_TRIANGLE, 2, 3, 6},
                                               {VTK_BIQUADRATIC_TRIANGLE, 2, 3, 7},
                                               {VTK_QUADRATIC_QUAD, 2, 4, 8},
                                               {VTK_BIQUADRATIC_QUAD, 2, 4, 9}}};

constexpr std::array volume_types{
    VTK_TETRA,           VTK_VOXEL,
    VTK_HEXAHEDRON,      VTK_WEDGE,
    VTK_PYRAMID,         VTK_PENTAGONAL_PRISM,
    VTK_HEXAGONAL_PRISM, VTK_QUADRATIC_TETRA,
    VTK_QUADRATIC_WEDGE, VTK_QUADRATIC_HEXAHEDRON,
    VTK_POLYHEDRON,      VTK_QUADRATIC_PYRAMID,
};

// What a cell became: how many of its kind were there before it.
struct CellPlace {
  int dimension = 3; // 3: nothing
  std::size_t first = 0;
  std::size_t count = 0;
};

struct CellValues {
  std::string array;
  bool is_text;
  std::vector<std::string> values; // the different ones
  std::vector<std::size_t> of_cell;
};

class Converter {
public:
  Converter(vtkPointSet& data, std::string file_name)
      : data_(data), file_name_(std::move(file_name)) {}

  MeshContent convert() {
    read_points();
    read_cells();
    refuse_ghosts();
    read_regions();
    read_arrays();
    if (volumes_ > 0) {
      content_.notes.push_back(counted(volumes_, "volume element is", "volume elements are") +
                               " ignored: only the surface of the cavity is read.");
    }
    return std::move(content_);
  }

private:
  [[noreturn]] void fail(const std::string& text) const {
    throw InputError(file_name_ + ": " + text);
  }
  void read_points();
  void read_cells();
  template <class TypeOf> void read_cell_array(vtkCellArray* cells, TypeOf type_of);
  CellPlace read_cell(int type, std::span<const vtkTypeInt64> points);
  const CellKind* kind_of(int type, std::size_t points) const;
  NodeId node(vtkTypeInt64 point) const;
  void add_surface(int type, std::size_t corners, std::span<const vtkTypeInt64> points);
  void refuse_ghosts() const;
  void read_regions();
  std::optional<CellValues> values_of(vtkAbstractArray& array) const;
  void check_name(const std::string& name) const;
  void add_sets(const CellValues& regions);
  void read_arrays();
  std::vector<double> numbers_of(vtkDataArray& array) const;

  vtkPointSet& data_;
  std::string file_name_;
  MeshContent content_;
  std::vector<CellPlace> places_;
  std::vector<NodeId> points_;                  // of vertex cells, in cell order
  std::vector<std::array<NodeId, 2>> segments_; // of line cells, in cell order
  std::size_t volumes_ = 0;
};

void Converter::read_points() {
  vtkPoints* points = data_.GetPoints();
  const vtkIdType count = points == nullptr ? 0 : points->GetNumberOfPoints();
  if (count > std::numeric_limits<std::int32_t>::max()) {
    fail(std::to_string(count) + " points are more than can be handled");
  }
  for (vtkIdType i = 0; i < count; ++i) {
    Vector3 position;
    points->GetPoint(i, position.data());
    if (!position.allFinite()) {
      fail("point " + std::to_string(i) + " has a coordinate that is not a finite number");
    }
    content_.mesh.positions.push_back(position);
    content_.mesh.node_labels.push_back(i);
  }
}

void Converter::read_cells() {
  if (auto* grid = vtkUnstructuredGrid::SafeDownCast(&data_)) {
    vtkUnsignedCharArray* types = grid->GetCellTypesArray();
    const vtkIdType cells = grid->GetCells() == nullptr ? 0 : grid->GetCells()->GetNumberOfCells();
    if (cells > 0 && (types == nullptr || types->GetNumberOfTuples() != cells)) {
      fail("there is not one cell type for each cell");
    }
    read_cell_array(grid->GetCells(),
                    [&](vtkIdType cell, std::size_t) { return int{types->GetValue(cell)}; });
  } else if (auto* poly = vtkPolyData::SafeDownCast(&data_)) {
    read_cell_array(poly->GetVerts(), [](vtkIdType, std::size_t) { return VTK_POLY_VERTEX; });
    read_cell_array(poly->GetLines(), [](vtkIdType, std::size_t) { return VTK_POLY_LINE; });
    read_cell_array(poly->GetPolys(), [](vtkIdType, std::size_t) { return VTK_POLYGON; });
    read_cell_array(poly->GetStrips(), [](vtkIdType, std::size_t) { return VTK_TRIANGLE_STRIP; });
  }
}

template <class TypeOf> void Converter::read_cell_array(vtkCellArray* cells, TypeOf type_of) {
  if (cells == nullptr || cells->GetNumberOfCells() == 0) {
    return;
  }
  cells->ConvertTo64BitStorage();
  const auto* offsets = cells->GetOffsetsArray64()->GetPointer(0);
  const auto* points = cells->GetConnectivityArray64()->GetPointer(0);
  const vtkIdType stored = cells->GetConnectivityArray64()->GetNumberOfValues();
  for (vtkIdType cell = 0; cell < cells->GetNumberOfCells(); ++cell) {
    const vtkTypeInt64 from = offsets[cell];
    const vtkTypeInt64 to = offsets[cell + 1];
    if (from < 0 || to < from || to > stored) {
      fail("cell " + std::to_string(places_.size()) + " has damaged offsets");
    }
    const auto size = static_cast<std::size_t>(to - from);
    places_.push_back(read_cell(type_of(cell, size), {points + from, size}));
  }
}

const CellKind* Converter::kind_of(int type, std::size_t points) const {
  const std::string cell = "cell " + std::to_string(places_.size());
  const auto kind = std::ranges::find(flat_kinds, type, &CellKind::type);
  if (kind == flat_kinds.end()) {
    fail(cell + " has VTK cell type " + std::to_string(type) +
         ", which is not read; save triangles and quadrilaterals of order 1 or 2");
  }
  if (kind->nodes != 0 && kind->nodes != points) {
    fail(cell + " of VTK cell type " + std::to_string(type) + " has " + std::to_string(points) +
         " nodes, expected " + std::to_string(kind->nodes));
  }
  if (type == VTK_POLYGON && points != 3 && points != 4) {
    fail(cell + " is a polygon of " + std::to_string(points) +
         " corners; only triangles and quadrilaterals are read");
  }
  return &*kind;
}

NodeId Converter::node(vtkTypeInt64 point) const {
  if (point < 0 || point >= static_cast<vtkTypeInt64>(content_.mesh.positions.size())) {
    fail("cell " + std::to_string(places_.size()) + " has point " + std::to_string(point) +
         ", but there are " + std::to_string(content_.mesh.positions.size()) + " points");
  }
  return NodeId(point);
}

CellPlace Converter::read_cell(int type, std::span<const vtkTypeInt64> points) {
  if (type == VTK_EMPTY_CELL) {
    return {};
  }
  if (std::ranges::find(volume_types, type) != volume_types.end()) {
    ++volumes_;
    return {};
  }
  const CellKind& kind = *kind_of(type, points.size());
  const std::size_t corners = kind.corners == 0 ? points.size() : kind.corners;
  for (const vtkTypeInt64 point : points.subspan(corners)) {
    content_.mid_side_nodes.push_back(node(point));
  }
  if (kind.dimension == 0) {
    const std::size_t first = points_.size();
    for (const vtkTypeInt64 point : points) {
      points_.push_back(node(point));
    }
    return {0, first, points.size()};
  }
  if (kind.dimension == 1) {
    const std::size_t first = segments_.size();
    for (std::size_t i = 1; i < corners; ++i) {
      segments_.push_back({node(points[i - 1]), node(points[i])});
    }
    return {1, first, segments_.size() - first};
  }
  add_surface(type, corners, points);
  return {2, content_.mesh.elements.size() - 1, 1};
}

void Converter::add_surface(int type, std::size_t corners, std::span<const vtkTypeInt64> points) {
  Element element;
  for (std::size_t i = 0; i < corners; ++i) {
    element.nodes[i] = node(points[i]);
  }
  if (type == VTK_PIXEL) { // numbered row by row, not round the element
    std::swap(element.nodes[2], element.nodes[3]);
  }
  content_.second_order_elements += points.size() > corners ? 1 : 0;
  content_.mesh.elements.push_back(element);
  content_.mesh.element_labels.push_back(static_cast<std::int64_t>(places_.size()));
}

void Converter::refuse_ghosts() const {
  vtkUnsignedCharArray* ghosts = data_.GetCellGhostArray();
  for (vtkIdType i = 0; ghosts != nullptr && i < ghosts->GetNumberOfValues(); ++i) {
    if (ghosts->GetValue(i) != 0) {
      fail("cell " + std::to_string(i) +
           " is a ghost or hidden cell; save the whole mesh without them");
    }
  }
}

bool name_like_region(std::string name) {
  std::ranges::transform(name, name.begin(), [](unsigned char c) {
    return static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
  });
  constexpr std::array words{"region", "group", "physical", "part", "name", "material", "solid"};
  return std::ranges::any_of(
      words, [&](const char* word) { return name.find(word) != std::string::npos; });
}

void Converter::check_name(const std::string& name) const {
  if (std::ranges::any_of(name, [](unsigned char c) { return c < 0x20 || c == 0x7f; })) {
    fail("a name in a cell array has a control character: " + in_quotes(name));
  }
}

// Numbers the different values in order of first use; false if they are too many.
template <class Value, class ValueOf>
bool number_values(vtkIdType count, ValueOf value_of, std::vector<Value>& values,
                   std::vector<std::size_t>& of_cell) {
  std::map<Value, std::size_t> number_of;
  for (vtkIdType cell = 0; cell < count; ++cell) {
    const Value value = value_of(cell);
    const auto [entry, is_new] = number_of.try_emplace(value, values.size());
    if (is_new) {
      values.push_back(value);
    }
    if (values.size() > most_regions) {
      return false;
    }
    of_cell.push_back(entry->second);
  }
  return true;
}

// The values of an array that can name regions; nothing if it is of another kind.
std::optional<CellValues> Converter::values_of(vtkAbstractArray& array) const {
  auto* text = vtkStringArray::SafeDownCast(&array);
  auto* numbers = vtkDataArray::SafeDownCast(&array);
  const vtkIdType count = array.GetNumberOfTuples();
  CellValues result{array.GetName() == nullptr ? "" : array.GetName(), text != nullptr, {}, {}};
  if (array.GetNumberOfComponents() != 1 || result.array == "vtkGhostType" ||
      count != static_cast<vtkIdType>(places_.size())) {
    return std::nullopt;
  }
  if (text != nullptr) {
    const auto value_of = [&](vtkIdType cell) { return std::string(text->GetValue(cell)); };
    if (!number_values(count, value_of, result.values, result.of_cell)) {
      return std::nullopt;
    }
  } else if (numbers != nullptr && numbers->GetDataType() != VTK_FLOAT &&
             numbers->GetDataType() != VTK_DOUBLE) {
    const auto value_of = [&](vtkIdType cell) {
      return std::int64_t{numbers->GetVariantValue(cell).ToTypeInt64()};
    };
    std::vector<std::int64_t> values;
    if (!number_values(count, value_of, values, result.of_cell)) {
      return std::nullopt;
    }
    for (const std::int64_t value : values) {
      result.values.push_back(std::to_string(value));
    }
  } else {
    return std::nullopt;
  }
  check_name(result.array);
  for (const std::string& value : result.values) {
    check_name(value);
  }
  return result;
}

std::string joined(const std::vector<std::string>& names) {
  std::string text;
  for (const std::string& name : names) {
    text += (text.empty() ? "" : ", ") + in_quotes(name);
  }
  return text;
}

void Converter::read_regions() {
  vtkCellData* arrays = data_.GetCellData();
  std::vector<CellValues> usable;
  std::vector<std::string> used;
  std::vector<std::string> unused;
  for (int i = 0; i < arrays->GetNumberOfArrays(); ++i) {
    vtkAbstractArray& array = *arrays->GetAbstractArray(i);
    if (auto values = values_of(array)) {
      usable.push_back(std::move(*values));
    } else {
      unused.emplace_back(array.GetName() == nullptr ? "" : array.GetName());
    }
  }
  const bool any_like_region = std::ranges::any_of(
      usable, [](const CellValues& values) { return name_like_region(values.array); });
  for (const CellValues& values : usable) {
    const bool use = !any_like_region || name_like_region(values.array);
    (use ? used : unused).push_back(values.array);
    if (use) {
      add_sets(values);
    }
  }
  if (!used.empty()) {
    content_.notes.push_back("Groups are taken from the cell data " + joined(used) + ".");
  }
  if (!unused.empty()) {
    content_.notes.push_back(
        "Cell data that are no groups, for regions to take values from: " + joined(unused) + ".");
  }
  if (data_.GetPointData()->GetNumberOfArrays() > 0) {
    content_.notes.emplace_back("Point data of the mesh file are not used.");
  }
}

void Converter::add_sets(const CellValues& regions) {
  std::vector<NodeSet> nodes(regions.values.size());
  std::vector<LineSet> lines(regions.values.size());
  std::vector<ElementSet> elements(regions.values.size());
  for (std::size_t cell = 0; cell < places_.size(); ++cell) {
    const CellPlace& place = places_[cell];
    const std::size_t region = regions.of_cell[cell];
    for (std::size_t i = place.first; i < place.first + place.count; ++i) {
      if (place.dimension == 0) {
        nodes[region].nodes.push_back(points_[i]);
      } else if (place.dimension == 1) {
        lines[region].segments.push_back(segments_[i]);
      } else if (place.dimension == 2) {
        elements[region].elements.push_back(ElementId(i));
      }
    }
  }
  for (std::size_t region = 0; region < regions.values.size(); ++region) {
    const std::string& value = regions.values[region];
    if (value.empty()) {
      continue;
    }
    // Numbers of points, lines and surfaces are often counted apart: 1 must not mean all three.
    const auto name = [&](const char* kind) {
      return regions.is_text ? value : regions.array + " " + value + kind;
    };
    if (!nodes[region].nodes.empty()) {
      nodes[region].name = name(" points");
      content_.mesh.node_sets.push_back(std::move(nodes[region]));
    }
    if (!lines[region].segments.empty()) {
      lines[region].name = name(" lines");
      content_.mesh.line_sets.push_back(std::move(lines[region]));
    }
    if (!elements[region].elements.empty()) {
      elements[region].name = name("");
      content_.mesh.element_sets.push_back(std::move(elements[region]));
    }
  }
}

// Those of the surface elements, whose order is that of their cells.
std::vector<double> Converter::numbers_of(vtkDataArray& array) const {
  std::vector<double> numbers;
  for (std::size_t cell = 0; cell < places_.size(); ++cell) {
    for (int i = 0; places_[cell].dimension == 2 && i < array.GetNumberOfComponents(); ++i) {
      numbers.push_back(array.GetComponent(static_cast<vtkIdType>(cell), i));
    }
  }
  return numbers;
}

void Converter::read_arrays() {
  constexpr int most_components = 3;
  vtkCellData* arrays = data_.GetCellData();
  for (int i = 0; i < arrays->GetNumberOfArrays(); ++i) {
    vtkAbstractArray& array = *arrays->GetAbstractArray(i);
    const std::string name = array.GetName() == nullptr ? "" : array.GetName();
    if (name.empty() || name == "vtkGhostType" || array.GetNumberOfComponents() < 1 ||
        array.GetNumberOfTuples() != static_cast<vtkIdType>(places_.size())) {
      continue;
    }
    auto* numbers = vtkDataArray::SafeDownCast(&array);
    ElementArray result{
        name, static_cast<std::size_t>(array.GetNumberOfComponents()), numbers == nullptr, {}};
    if (numbers != nullptr && array.GetNumberOfComponents() <= most_components) {
      result.values = numbers_of(*numbers);
    }
    content_.mesh.element_arrays.push_back(std::move(result));
  }
}

} // namespace

MeshContent vtk_content(vtkPointSet& data, const std::string& file_name) {
  return Converter(data, file_name).convert();
}

} // namespace tidemark
