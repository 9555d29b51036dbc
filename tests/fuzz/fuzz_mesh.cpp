// Any bytes as an MSH file and as an OBJ file: a mesh whose ids are in range, that can be checked
// and whose first case file is TOML, or an InputError; never a crash, a hang or another exception.
#include "io/case_syntax.hpp"
#include "io/first_case.hpp"
#include "io/msh_format.hpp"
#include "io/obj_reader.hpp"
#include "mesh/error.hpp"
#include "mesh/mesh_check.hpp"

#include <cstdint>
#include <cstdlib>
#include <string>

namespace {

using namespace tidemark;

void require(bool holds) {
  if (!holds) {
    std::abort();
  }
}

void require_in_range(const ShellMesh& mesh) {
  const auto good = [&](NodeId node) {
    return node.valid() && node.position() < mesh.positions.size();
  };
  require(mesh.node_labels.size() == mesh.positions.size());
  require(mesh.element_labels.size() == mesh.elements.size());
  for (const Element& element : mesh.elements) {
    for (const NodeId node : element.corners()) {
      require(good(node));
    }
  }
  for (const NodeSet& set : mesh.node_sets) {
    for (const NodeId node : set.nodes) {
      require(good(node));
    }
  }
  for (const LineSet& set : mesh.line_sets) {
    for (const auto& [a, b] : set.segments) {
      require(good(a) && good(b));
    }
  }
  for (const ElementSet& set : mesh.element_sets) {
    for (const ElementId element : set.elements) {
      require(element.valid() && element.position() < mesh.elements.size());
    }
  }
}

using Parser = MeshContent (*)(std::string_view, const std::string&);

void read_and_check(Parser parse, std::string_view content, const std::string& name) {
  try {
    ShellMesh mesh = parse(content, name).mesh;
    require_in_range(mesh);
    drop_unused_nodes(mesh);
    require_in_range(mesh);
    // What read_mesh refuses as a wrong unit never reaches the check.
    for (const Vector3& position : mesh.positions) {
      if (position.cwiseAbs().maxCoeff() > 1e6) {
        return;
      }
    }
    check_mesh(mesh);
    if (mesh.elements.empty()) { // refused by read_mesh as well
      return;
    }
    const std::string text = first_case_text(mesh, 1e-3, "fuzz", name);
    parse_toml(text, {"first case", {}, {}}); // an InputError of this one fails below
  } catch (const InputError& error) {
    require(!error.findings().empty() && error.findings()[0].starts_with(name + ": "));
  }
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view content(reinterpret_cast<const char*>(data), size);
  read_and_check(parse_msh, content, "fuzz.msh");
  read_and_check(parse_obj, content, "fuzz.obj");
  return 0;
}
