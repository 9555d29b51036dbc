// Mesh files read back: the same part in every format, groups, orders, and every kind of damage.
#include "io/mesh_reader.hpp"

#include "io/guarded_child.hpp"
#include "io/msh_format.hpp"
#include "io/obj_reader.hpp"
#include "io/whole_file.hpp"
#include "mesh/error.hpp"
#include "mesh/mesh_check.hpp"
#include "mesh/triangulation.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <atomic>
#include <bit>
#include <cmath>
#include <csignal>
#include <cstring>
#include <fstream>
#include <iterator>
#include <map>
#include <set>
#include <unistd.h>

using namespace tidemark;

namespace {

const std::filesystem::path mesh_folder = TIDEMARK_SOURCE_DIR "/tests/meshes";
const std::filesystem::path bad_folder = TIDEMARK_SOURCE_DIR "/tests/bad_input/mesh";

MeshFile read_mm(const std::string& name) {
  return read_mesh(mesh_folder / name, 1e-3);
}

// An element as its corners' places in micrometres, whatever its numbering and first corner.
using Places = std::vector<std::array<long, 3>>;

Places places_of(const ShellMesh& mesh, std::span<const NodeId> nodes) {
  Places places;
  for (const NodeId node : nodes) {
    const Vector3& p = mesh.positions[node];
    places.push_back(
        {std::lround(1e6 * p.x()), std::lround(1e6 * p.y()), std::lround(1e6 * p.z())});
  }
  std::ranges::sort(places);
  return places;
}

std::multiset<Places> all_places(const ShellMesh& mesh) {
  std::multiset<Places> all;
  for (const Element& element : mesh.elements) {
    all.insert(places_of(mesh, element.corners()));
  }
  return all;
}

std::multiset<Places> places_in_set(const ShellMesh& mesh, const std::string& name) {
  std::multiset<Places> all;
  for (const ElementSet& set : mesh.element_sets) {
    for (const ElementId element : set.name == name ? set.elements : std::vector<ElementId>{}) {
      all.insert(places_of(mesh, mesh.elements[element].corners()));
    }
  }
  return all;
}

double area_of_set(const ShellMesh& mesh, const std::string& name) {
  double area = 0;
  for (const ElementSet& set : mesh.element_sets) {
    for (const ElementId element : set.name == name ? set.elements : std::vector<ElementId>{}) {
      area += element_area(mesh, element);
    }
  }
  return area;
}

bool has_note(const std::vector<std::string>& notes, const std::string& part) {
  return std::ranges::any_of(
      notes, [&](const std::string& note) { return note.find(part) != std::string::npos; });
}

// A name of this process alone: tests of several checkouts may run at a time.
std::filesystem::path temporary(const std::string& name) {
  return std::filesystem::temp_directory_path() / (std::to_string(getpid()) + "_" + name);
}

std::string content_of(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

std::string input_error(const std::filesystem::path& file) {
  try {
    read_mesh(file, 1e-3);
  } catch (const InputError& error) {
    return error.what();
  }
  return "no InputError";
}

// Writes binary MSH files with the bytes of either order.
struct BinaryText {
  bool swapped;
  std::string bytes{};

  BinaryText& text(const char* words) {
    bytes += words;
    return *this;
  }
  template <class T> BinaryText& put(std::initializer_list<T> values) {
    for (const T value : values) {
      std::array<char, sizeof(T)> raw;
      std::memcpy(raw.data(), &value, sizeof(T));
      if (swapped) {
        std::ranges::reverse(raw);
      }
      bytes.append(raw.data(), raw.size());
    }
    return *this;
  }
};

std::string binary_22(bool swapped) {
  BinaryText file{swapped};
  file.text("$MeshFormat\n2.2 1 8\n").put<std::int32_t>({1}).text("\n$EndMeshFormat\n");
  file.text("$PhysicalNames\n1\n2 5 \"skin\"\n$EndPhysicalNames\n$Nodes\n3\n");
  file.put<std::int32_t>({10}).put<double>({0, 0, 0});
  file.put<std::int32_t>({20}).put<double>({2, 0, 0});
  file.put<std::int32_t>({30}).put<double>({0, 3, 0.25});
  file.text("\n$EndNodes\n$Elements\n2\n");
  file.put<std::int32_t>({15, 1, 2, 1, 4, 1, 30});
  file.put<std::int32_t>({2, 1, 2, 7, 5, 1, 10, 20, 30}).text("\n$EndElements\n");
  return file.bytes;
}

std::string binary_41(bool swapped) {
  BinaryText file{swapped};
  file.text("$MeshFormat\n4.1 1 8\n").put<std::int32_t>({1}).text("\n$EndMeshFormat\n");
  file.text("$PhysicalNames\n1\n2 5 \"skin\"\n$EndPhysicalNames\n$Entities\n");
  file.put<std::uint64_t>({1, 0, 1, 0});
  file.put<std::int32_t>({1}).put<double>({0, 3, 0.25});
  file.put<std::uint64_t>({1}).put<std::int32_t>({4});
  file.put<std::int32_t>({8}).put<double>({0, 0, 0, 2, 3, 0.25});
  file.put<std::uint64_t>({1}).put<std::int32_t>({-5}).put<std::uint64_t>({2});
  file.put<std::int32_t>({1, -2}).text("\n$EndEntities\n$Nodes\n");
  file.put<std::uint64_t>({1, 3, 10, 30}).put<std::int32_t>({2, 8, 1}).put<std::uint64_t>({3});
  file.put<std::uint64_t>({10, 20, 30});
  file.put<double>({0, 0, 0, 0.1, 0.1, 2, 0, 0, 0.2, 0.2, 0, 3, 0.25, 0.3, 0.3});
  file.text("\n$EndNodes\n$Elements\n").put<std::uint64_t>({2, 2, 1, 7});
  file.put<std::int32_t>({0, 1, 15}).put<std::uint64_t>({1, 1, 30});
  file.put<std::int32_t>({2, 8, 2}).put<std::uint64_t>({1, 7, 10, 20, 30});
  return file.text("\n$EndElements\n").bytes;
}

const std::string small_22 =
    "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n"
    "$Nodes\n5\n1 0 0 0\n2 1 0 0\n3 1 1 0\n4 0 1 0\n5 0.5 2 0\n$EndNodes\n";

} // namespace

TEST_CASE("the same part is read from every format") {
  const ShellMesh reference = read_mm("rib_plate_41.msh").mesh;
  CHECK(reference.positions.size() == 40);
  CHECK(reference.elements.size() == 58);
  // By hand: the plate is 100 x 60 mm, the border at x = 60; the rib is 60 x 30 mm.
  CHECK(area_of_set(reference, "wide") == doctest::Approx(60e-3 * 60e-3).epsilon(1e-12));
  CHECK(area_of_set(reference, "narrow") == doctest::Approx(40e-3 * 60e-3).epsilon(1e-12));
  CHECK(area_of_set(reference, "rib") == doctest::Approx(60e-3 * 30e-3).epsilon(1e-12));
  CHECK(area_of_set(reference, "flat") == doctest::Approx(100e-3 * 60e-3).epsilon(1e-12));
  const std::multiset<Places> places = all_places(reference);
  for (const char* name :
       {"rib_plate_22.msh", "rib_plate_22_binary.msh", "rib_plate_41_binary.msh", "rib_plate.vtk",
        "rib_plate_poly.vtk", "rib_plate.vtu", "rib_plate.vtp", "rib_plate.stl",
        "rib_plate_ascii.stl", "rib_plate.obj", "rib_plate.ply"}) {
    CAPTURE(name);
    const ShellMesh mesh = read_mm(name).mesh;
    CHECK(mesh.positions.size() == 40);
    CHECK(all_places(mesh) == places);
    CHECK(mesh.node_labels.size() == mesh.positions.size());
    CHECK(mesh.element_labels.size() == mesh.elements.size());
    CHECK(check_mesh(mesh).empty());
  }
}

TEST_CASE("physical groups of a Gmsh file become sets, in every version") {
  const ShellMesh reference = read_mm("rib_plate_41.msh").mesh;
  for (const char* name : {"rib_plate_22.msh", "rib_plate_22_binary.msh", "rib_plate_41.msh",
                           "rib_plate_41_binary.msh"}) {
    CAPTURE(name);
    const MeshFile file = read_mm(name);
    const ShellMesh& mesh = file.mesh;
    CHECK(group_names(mesh) == std::vector<std::string>{"corner", "left edge", "rim", "wide",
                                                        "narrow", "rib", "flat", "group 9"});
    REQUIRE(mesh.node_sets.size() == 1);
    REQUIRE(mesh.node_sets[0].nodes.size() == 1);
    CHECK(mesh.positions[mesh.node_sets[0].nodes[0]] == Vector3(0, 0, 0));
    REQUIRE(mesh.line_sets.size() == 2);
    CHECK(nodes_of_group(mesh, "left edge").size() == 4);
    for (const NodeId node : nodes_of_group(mesh, "left edge")) {
      CHECK(mesh.positions[node].x() == 0);
    }
    for (const char* set : {"wide", "narrow", "rib", "flat", "group 9"}) {
      CHECK(places_in_set(mesh, set) == places_in_set(reference, set));
    }
    // In two groups each: the flat ones in "flat", the rib in the group without a name.
    CHECK(places_in_set(mesh, "group 9") == places_in_set(mesh, "rib"));
    CHECK(places_in_set(mesh, "flat").size() ==
          places_in_set(mesh, "wide").size() + places_in_set(mesh, "narrow").size());
    const bool version_2 = std::string(name).find("22") != std::string::npos;
    CHECK(has_note(file.notes, "58 elements that repeat another one") == version_2);
  }
}

TEST_CASE("regions come from cell data of VTK files and from groups of OBJ files") {
  const ShellMesh reference = read_mm("rib_plate_41.msh").mesh;
  for (const char* name : {"rib_plate.vtp", "rib_plate_poly.vtk"}) {
    const MeshFile file = read_mm(name);
    CHECK(group_names(file.mesh) == std::vector<std::string>{"wide", "narrow", "rib"});
    CHECK(places_in_set(file.mesh, "rib") == places_in_set(reference, "rib"));
    CHECK(has_note(file.notes, "Groups are taken from the cell data \"part_name\"."));
    CHECK(has_note(file.notes, "Cell data that are no groups, for regions to take values from: "
                               "\"quality\"."));
  }
  for (const char* name : {"rib_plate.vtu", "rib_plate.vtk"}) {
    const ShellMesh mesh = read_mm(name).mesh;
    CHECK(group_names(mesh) == std::vector<std::string>{"region 1", "region 2", "region 3"});
    CHECK(places_in_set(mesh, "region 2") == places_in_set(reference, "narrow"));
  }
  const ShellMesh mesh = read_mm("rib_plate.obj").mesh;
  for (const char* set : {"wide", "narrow", "rib", "flat"}) {
    CHECK(places_in_set(mesh, set) == places_in_set(reference, set));
  }
  CHECK(places_in_set(mesh, "mat") == places_in_set(reference, "wide")); // the material
  CHECK(places_in_set(mesh, "weave").size() == 58 - 26);
}

TEST_CASE("numbers on the elements of VTK files") {
  for (const char* name : {"rib_plate.vtu", "rib_plate.vtk", "rib_plate.vtp"}) {
    const ShellMesh mesh = read_mm(name).mesh;
    const auto quality = std::ranges::find(mesh.element_arrays, "quality", &ElementArray::name);
    REQUIRE(quality != mesh.element_arrays.end());
    CHECK(quality->components == 1);
    CHECK_FALSE(quality->is_text);
    CHECK(quality->values == std::vector<double>(mesh.elements.size(), 5));
  }
  const ShellMesh mesh = read_mm("rib_plate.vtp").mesh;
  const auto name = std::ranges::find(mesh.element_arrays, "part_name", &ElementArray::name);
  REQUIRE(name != mesh.element_arrays.end());
  CHECK(name->is_text);
  CHECK(name->values.empty());
}

TEST_CASE("numbers on the elements of MSH files, by their labels") {
  const std::string mesh_text =
      "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$Nodes\n4\n1 0 0 0\n2 1 0 "
      "0\n3 1 1 0\n4 0 1 0\n$EndNodes\n$Elements\n3\n7 1 0 1 2\n8 2 0 1 2 "
      "3\n9 2 0 1 3 4\n$EndElements\n";
  const std::string head = "$ElementData\n1\n\"t\"\n1\n0.0\n";
  const ShellMesh mesh =
      parse_msh(mesh_text + head + "3\n0\n1\n3\n9 2.5\n8 1.5\n7 9\n$EndElementData\n" +
                    "$ElementData\n1\n\"d\"\n0\n3\n0\n3\n1\n9 1 2 3\n$EndElementData\n",
                "m.msh")
          .mesh;
  REQUIRE(mesh.element_arrays.size() == 2);
  CHECK(mesh.element_arrays[0].name == "t");
  CHECK(mesh.element_arrays[0].values == std::vector<double>{1.5, 2.5});
  CHECK(mesh.element_arrays[1].components == 3);
  CHECK(std::isnan(mesh.element_arrays[1].values[0])); // left out
  CHECK(mesh.element_arrays[1].values[5] == 3);
  for (const std::string& broken :
       {head + "3\n0\n1\n3\n9 2.5\n", head + "2\n0\n1\n", head + "3\n0\n0\n1\n9\n",
        head + "3\n0\n1\n1\n9 1,5\n$EndElementData\n",
        head + "3\n0\n1\n99999999\n9 1\n$EndElementData\n", std::string("$ElementData\n0\n")}) {
    CAPTURE(broken);
    CHECK_THROWS_AS(parse_msh(mesh_text + broken, "m.msh"), InputError);
  }
  // The same in binary: 32 bits of a label, 64 bits of each number.
  for (const bool swapped : {false, true}) {
    BinaryText data{swapped};
    data.text(head.c_str()).text("3\n0\n2\n2\n").put<std::int32_t>({7}).put<double>({3.25, 4});
    data.put<std::int32_t>({1}).put<double>({0, 0}).text("\n$EndElementData\n");
    for (const std::string& whole : {binary_22(swapped), binary_41(swapped)}) {
      const ShellMesh binary = parse_msh(whole + data.bytes, "m.msh").mesh;
      REQUIRE(binary.element_arrays.size() == 1);
      CHECK(binary.element_arrays[0].values == std::vector<double>{3.25, 4});
    }
  }
}

TEST_CASE("merged vertices are said with their number") {
  for (const char* name : {"rib_plate.stl", "rib_plate_ascii.stl", "rib_plate.obj"}) {
    CHECK(has_note(read_mm(name).notes,
                   "134 vertices of 174 merged with an earlier one at the same place, which "
                   "leaves 40."));
  }
}

TEST_CASE("second-order elements lose their mid-side nodes, quadrilaterals keep four corners") {
  const ShellMesh first_order = read_mesh(mesh_folder / "quads_41.msh", 1).mesh;
  CHECK(std::ranges::count_if(first_order.elements, &Element::is_quad) == 9);
  CHECK(area_of_set(first_order, "square") == doctest::Approx(1));
  CHECK(area_of_set(first_order, "triangles") == doctest::Approx(1));
  // Nodes of a second-order mesh less its corners: 141 - 75 = 66 and 66 + 9 face centres.
  const std::map<std::string, std::string> dropped{{"quads_8node_41.msh", "66 mid-side nodes are"},
                                                   {"quads_9node_22.msh", "75 mid-side nodes are"}};
  for (const auto& entry : dropped) {
    const std::string name = entry.first;
    CAPTURE(name);
    const MeshFile file = read_mesh(mesh_folder / name, 1);
    CHECK(all_places(file.mesh) == all_places(first_order));
    CHECK(file.mesh.line_sets[0].segments.size() == 3);
    CHECK(nodes_of_group(file.mesh, "left").size() == 4);
    CHECK(has_note(file.notes, "35 second-order elements are read by the corners only"));
    CHECK(has_note(file.notes, entry.second));
    CHECK_FALSE(has_note(file.notes, "no surface element uses"));
  }
}

TEST_CASE("the unit multiplies the coordinates") {
  CHECK(mesh_extent(read_mesh(mesh_folder / "rib_plate_22.msh", 1e-3).mesh) ==
        doctest::Approx(0.1));
  CHECK(mesh_extent(read_mesh(mesh_folder / "rib_plate_22.msh", 0.0254).mesh) ==
        doctest::Approx(2.54));
  CHECK_THROWS_AS(read_mesh(mesh_folder / "rib_plate_22.msh", 0), InputError);
  CHECK_THROWS_AS(read_mesh(mesh_folder / "rib_plate_22.msh", std::nan("")), InputError);
}

TEST_CASE("binary files of either byte order") {
  for (const bool swapped : {false, true}) {
    for (const std::string& bytes : {binary_22(swapped), binary_41(swapped)}) {
      const MeshContent content = parse_msh(bytes, "part.msh");
      const ShellMesh& mesh = content.mesh;
      CHECK(mesh.node_labels.values() == std::vector<std::int64_t>{10, 20, 30});
      CHECK(mesh.positions[NodeId(2)] == Vector3(0, 3, 0.25));
      CHECK(mesh.element_labels.values() == std::vector<std::int64_t>{7});
      CHECK(mesh.elements[ElementId(0)] == Element{{NodeId(0), NodeId(1), NodeId(2), NodeId()}});
      CHECK(group_names(mesh) == std::vector<std::string>{"point group 4", "skin"});
      CHECK(mesh.node_sets[0].nodes == std::vector<NodeId>{NodeId(2)});
    }
  }
}

TEST_CASE("every shorter piece of a binary or ASCII file is refused, never read as a mesh") {
  for (const std::string& whole :
       {binary_22(false), binary_41(true), content_of(mesh_folder / "rib_plate_41.msh")}) {
    const std::size_t end = whole.rfind("$EndElements") + std::strlen("$EndElements");
    for (std::size_t size = 0; size < end; ++size) {
      CHECK_THROWS_AS(parse_msh(std::string_view(whole).substr(0, size), "part.msh"), InputError);
    }
    CHECK_NOTHROW(parse_msh(std::string_view(whole).substr(0, end), "part.msh"));
  }
}

TEST_CASE("repeated elements: merged over groups, kept within one group for the mesh check") {
  const std::string elements = "$Elements\n5\n"
                               "1 2 2 1 1 1 2 3\n" // group 1
                               "2 2 2 2 1 3 2 1\n" // the same turned over, in group 2
                               "3 2 2 2 1 2 3 1\n" // once more in group 2
                               "4 2 2 0 1 1 2 3\n" // and in none
                               "5 3 2 1 1 1 2 3 4\n$EndElements\n";
  const MeshContent content = parse_msh(small_22 + elements, "part.msh");
  const ShellMesh& mesh = content.mesh;
  CHECK(mesh.element_labels.values() == std::vector<std::int64_t>{1, 3, 4, 5});
  REQUIRE(mesh.element_sets.size() == 2);
  CHECK(mesh.element_sets[0].elements == std::vector<ElementId>{ElementId(0), ElementId(3)});
  CHECK(mesh.element_sets[1].elements == std::vector<ElementId>{ElementId(0), ElementId(1)});
  CHECK(has_note(content.notes, "1 element that repeats another one"));
}

TEST_CASE("nodes and groups without surface elements are dropped and said") {
  const std::filesystem::path file = temporary("tidemark_reader_test.msh");
  std::ofstream(file) << "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n4\n0 1 \"far\"\n"
                         "1 1 \"gone\"\n1 2 \"half gone\"\n2 9 \"nothing\"\n$EndPhysicalNames\n"
                         "$Comments\nanything $Nodes\n$EndComments\n"
                         "$Nodes\n5\n1 0 0 0\n2 1 0 0\n3 1 1 0\n40 9 9 9\n50 8 8 8\n$EndNodes\r\n"
                         "$Elements\n6\n1 15 2 1 1 40\n2 1 2 1 1 40 50\n3 1 2 2 1 2 40\n"
                         "4 1 2 2 1 1 2\n5 2 2 3 1 1 2 3\n6 4 2 1 1 1 2 3 40\n$EndElements\n";
  const MeshFile read = read_mesh(file, 1);
  std::filesystem::remove(file);
  CHECK(read.mesh.positions.size() == 3);
  CHECK(group_names(read.mesh) == std::vector<std::string>{"half gone", "group 3", "nothing"});
  CHECK(read.mesh.line_sets[0].segments.size() == 1);
  CHECK(has_note(read.notes, "2 nodes that no surface element uses are dropped."));
  CHECK(has_note(read.notes, "The group \"far\" lost 1 node of its 1"));
  CHECK(has_note(read.notes, "The group \"gone\" lost 1 segment of its 1"));
  CHECK(has_note(read.notes, "The group \"half gone\" lost 1 segment of its 2"));
  CHECK(has_note(read.notes, "The physical group \"nothing\" has no elements."));
  CHECK(has_note(read.notes, "1 volume element is ignored"));
}

TEST_CASE("a line group off the edges of the elements is said") {
  const std::filesystem::path file = temporary("tidemark_reader_line_test.msh");
  std::ofstream(file) << small_22
                      << "$Elements\n4\n1 2 2 1 1 1 2 3\n2 2 2 1 1 1 3 4\n"
                         "3 2 2 1 1 4 3 5\n4 1 2 6 1 2 4\n$EndElements\n";
  const MeshFile read = read_mesh(file, 1);
  std::filesystem::remove(file);
  CHECK(has_note(read.notes, "In the group \"line group 6\" 1 segment is not an edge"));
}

TEST_CASE("a file that is not there or is a folder is a FileError") {
  CHECK_THROWS_AS(read_mesh("/nowhere/part.msh", 1), FileError);
  CHECK_THROWS_AS(read_mesh("/nowhere/part.stl", 1), FileError);
  const std::filesystem::path folder = temporary("tidemark_folder.msh");
  std::filesystem::create_directory(folder);
  CHECK_THROWS_AS(read_mesh(folder, 1), FileError);
  std::filesystem::remove(folder);
}

TEST_CASE("every bad mesh file is refused with its own message") {
  std::size_t files = 0;
  for (const auto& entry : std::filesystem::directory_iterator(bad_folder)) {
    std::filesystem::path expected_file = entry.path();
    expected_file.replace_extension(".expected");
    if (entry.path() == expected_file) {
      continue;
    }
    ++files;
    CAPTURE(entry.path().filename().string());
    std::string expected = content_of(expected_file);
    while (expected.ends_with('\n')) {
      expected.pop_back();
    }
    REQUIRE_FALSE(expected.empty());
    const std::string message = input_error(entry.path());
    CAPTURE(message);
    CHECK(message.starts_with(entry.path().string() + ": "));
    CHECK(message.find(expected) != std::string::npos);
    CHECK(message.find("0x") == std::string::npos); // no addresses of VTK's objects
  }
  CHECK(files >= 107);
}

TEST_CASE("OBJ groups and materials by face") {
  const ShellMesh mesh = parse_obj("v 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\ng a b\r\nusemtl b\n"
                                   "f 1 2 3\nusemtl c\nf 1 2 3\ng\nf 1/1/1 2 3\n",
                                   "plate.obj")
                             .mesh;
  CHECK(mesh.elements.size() == 4);
  const std::vector<ElementSet>& sets = mesh.element_sets;
  REQUIRE(sets.size() == 3);
  CHECK(sets[0].name == "a");
  CHECK(sets[0].elements == std::vector<ElementId>{ElementId(1), ElementId(2)});
  CHECK(sets[1].name == "b"); // both a group and a material
  CHECK(sets[1].elements == std::vector<ElementId>{ElementId(1), ElementId(2)});
  CHECK(sets[2].elements == std::vector<ElementId>{ElementId(2), ElementId(3)});
}

TEST_CASE("OBJ in all its spellings") {
  const ShellMesh mesh = parse_obj("\xEF\xBB\xBFv 0 0 0\r\n"     // a byte order mark
                                   "# v 9 9 9\n\n"               // a comment
                                   "\tv +1 0. 1e-1 0.5 0.5 .5\n" // a colour
                                   "v 1 1 0 1.0 # weight\n"
                                   "vn 0 0 1\nvt 0 nan\no part#1\n"
                                   "f -3 -2 -1\n"
                                   "f 1//1 2/1/1 \\\r\n  3/1 4\n" // goes on, and is ahead
                                   "v 0 1 0",
                                   "plate.obj")
                             .mesh;
  REQUIRE(mesh.positions.size() == 4);
  CHECK(mesh.positions[NodeId(0)] == Vector3(0, 0, 0));
  CHECK(mesh.positions[NodeId(1)] == Vector3(1, 0, 0.1));
  CHECK(mesh.positions[NodeId(3)] == Vector3(0, 1, 0));
  CHECK(mesh.node_labels.values() == std::vector<std::int64_t>{1, 2, 3, 4});
  CHECK(mesh.element_labels.values() == std::vector<std::int64_t>{1, 2});
  CHECK(mesh.elements[ElementId(0)] == Element{{NodeId(0), NodeId(1), NodeId(2), NodeId()}});
  CHECK(mesh.elements[ElementId(1)] == Element{{NodeId(0), NodeId(1), NodeId(2), NodeId(3)}});
}

TEST_CASE("a byte order mark before an MSH file is passed over") {
  const std::filesystem::path file =
      std::filesystem::path(TIDEMARK_SOURCE_DIR) / "tests/meshes/rib_plate_22.msh";
  const std::string text = whole_file(file);
  const ShellMesh mesh = parse_msh("\xEF\xBB\xBF" + text, "plate.msh").mesh;
  CHECK(mesh.positions == parse_msh(text, "plate.msh").mesh.positions);
}

TEST_CASE("whatever happens in the child is an outcome") {
  const ChildLimits limits{1, std::size_t{8} << 30};
  const std::string large(3'000'000, 'x'); // more than a pipe holds
  const ChildOutcome good = run_in_child([&] { return large; }, limits);
  CHECK(good.end == ChildEnd::finished);
  CHECK(good.output == large);
  const auto end_of = [&](std::string (*work)()) { return run_in_child(work, limits).end; };
  CHECK(end_of([]() -> std::string {
          std::raise(SIGSEGV);
          return "alive";
        }) == ChildEnd::crashed);
  CHECK(end_of([]() -> std::string { throw 1; }) == ChildEnd::crashed);
  CHECK(end_of([]() -> std::string { throw std::bad_alloc(); }) == ChildEnd::out_of_memory);
  CHECK(end_of([]() -> std::string {
          const std::atomic<bool> forever = true;
          while (forever) {
          }
          return "";
        }) == ChildEnd::out_of_time);
}
