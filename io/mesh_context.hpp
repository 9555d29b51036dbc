// What the checks of a case against its mesh need at hand, and how they speak of places.
#pragma once

#include "io/findings.hpp"
#include "io/raw_case.hpp"
#include "mesh/shell_mesh.hpp"

#include <string>

namespace tidemark {

struct MeshContext {
  const RawCase& raw;
  const ShellMesh& mesh;
  double unit;   // of the mesh's coordinates [m]
  double extent; // [m]
  Findings& findings;
};

/// A length in the user's mesh units, as in at = [...].
std::string in_mesh_units(const MeshContext& context, double metres);

/// "node 17 at [10, 0, 0]", in mesh units.
std::string node_text(const MeshContext& context, NodeId node);

/// "element 17 at [10, 0, 0]": its label and its middle in mesh units.
std::string element_text(const MeshContext& context, ElementId element);

/// The node nearest to a point in mesh units, called `found` in the file; none, with an error, if
/// the point is off the part. With a warning if it is perhaps off the part, or if the node is more
/// than half its longest edge, a hundredth of the part and `told_beyond` [m] away from it.
NodeId node_near(const MeshContext& context, const Vector3& point_in_mesh_units, int line,
                 const std::string& key, const std::string& found, double told_beyond = 0);

} // namespace tidemark
