#include "io/channel_check.hpp"

#include "io/number_text.hpp"
#include "io/raw_lookup.hpp"
#include "io/shop_units.hpp"
#include "io/wording.hpp"
#include "mesh/adjacency.hpp"
#include "mesh/edge_lines.hpp"
#include "mesh/surface_distance.hpp"
#include "solver/channel.hpp"

#include <algorithm>
#include <map>
#include <numbers>
#include <set>

namespace tidemark {

namespace {

using Segment = std::array<NodeId, 2>;

Segment ascending(const Segment& segment) {
  return {std::min(segment[0], segment[1]), std::max(segment[0], segment[1])};
}

/// A line may go along an edge twice, there and back: it is one channel all the same.
std::vector<Segment> each_once(const std::vector<Segment>& segments) {
  std::set<Segment> seen;
  std::vector<Segment> once;
  for (const Segment& segment : segments) {
    if (seen.insert(ascending(segment)).second) {
      once.push_back(segment);
    }
  }
  return once;
}

// --- a group of mesh lines ---------------------------------------------------------------------

std::vector<std::string> line_names(const ShellMesh& mesh) {
  std::vector<std::string> names;
  for (const LineSet& set : mesh.line_sets) {
    if (!set.segments.empty() && std::ranges::find(names, set.name) == names.end()) {
      names.push_back(set.name);
    }
  }
  return names;
}

void report_no_lines(const MeshContext& context, const Given<std::string>& group,
                     const std::string& key) {
  const std::vector<std::string> all = group_names(context.mesh);
  const bool is_known = std::ranges::find(all, group.value) != all.end();
  add_error(context.findings, group.line, key,
            "found " + quoted_text(group.value) + (is_known ? ", which has no lines," : ",") +
                " expected a group of lines of the mesh: " +
                list_with_nearest(group.value, line_names(context.mesh)));
}

std::vector<Segment> segments_of_group(const MeshContext& context, const Given<std::string>& group,
                                       const std::string& key) {
  std::vector<Segment> segments;
  for (const LineSet& set : context.mesh.line_sets) {
    if (set.name == group.value) {
      segments.insert(segments.end(), set.segments.begin(), set.segments.end());
    }
  }
  if (segments.empty()) {
    report_no_lines(context, group, key);
    return {};
  }
  const EdgeList edges = element_edges(context.mesh);
  const auto off = std::ranges::count_if(
      segments, [&](const Segment& segment) { return !edges.contains(segment[0], segment[1]); });
  if (off > 0) {
    add_error(context.findings, group.line, key,
              "found " + quoted_text(group.value) + ", of whose " +
                  std::to_string(segments.size()) + " lines " + std::to_string(off) +
                  " are no edge of an element, expected lines along edges of the part");
    return {};
  }
  return segments;
}

// --- a path of points --------------------------------------------------------------------------

std::string point_text(const Vector3& point) {
  return "[" + plain_number(point.x()) + ", " + plain_number(point.y()) + ", " +
         plain_number(point.z()) + "]";
}

/// Points as the case file gives them, under a key.
struct Path {
  const std::vector<Vector3>& points;
  int line;
  std::string key;
};

/// The way between two neighbouring points of a path; empty, with an error, if there is none.
std::vector<Segment> leg_of_path(const MeshContext& context, const Path& path, std::size_t leg,
                                 std::array<NodeId, 2> ends) {
  const std::string between =
      "found " + point_text(path.points[leg]) + " and " + point_text(path.points[leg + 1]);
  if (ends[0] == ends[1]) {
    add_error(context.findings, path.line, path.key,
              between + ", which are nearest to the same " + node_text(context, ends[0]) +
                  ", expected points at different nodes");
    return {};
  }
  std::vector<Segment> way = edge_path(context.mesh, ends);
  if (way.empty()) {
    add_error(context.findings, path.line, path.key,
              between + ", between which no way leads along the edges of the mesh, expected "
                        "points on one connected piece of the part");
  }
  return way;
}

/// A path that follows no line of the mesh goes to and fro along its edges: so much longer is the
/// channel, and slower.
void warn_of_detour(const MeshContext& context, const Path& path, std::size_t leg,
                    const std::vector<Segment>& way, std::array<NodeId, 2> ends) {
  constexpr double tolerable = 1.03; // own choice
  const auto& positions = context.mesh.positions;
  double length = 0;
  for (const auto& [a, b] : way) {
    length += (positions[b] - positions[a]).norm();
  }
  const double direct = distances_from(surface_graph(context.mesh), {&ends[0], 1}, length)[ends[1]];
  if (length > tolerable * direct) {
    add_warning(
        context.findings, path.line, path.key,
        "found " + point_text(path.points[leg]) + " and " + point_text(path.points[leg + 1]) +
            ", between which the way along the edges of the mesh is " + as_millimetres(length) +
            " where that over the surface is " + as_millimetres(direct) +
            ": so long is the channel. Where it is to be straight, expected a line of the mesh "
            "there");
  }
}

std::vector<Segment> segments_of_path(const MeshContext& context,
                                      const Given<std::vector<Vector3>>& given,
                                      const std::string& key) {
  const Path path{given.value, given.line, key};
  std::vector<NodeId> nodes;
  bool all_near = true;
  for (const Vector3& point : path.points) {
    nodes.push_back(node_near(context, point, path.line, path.key, point_text(point)));
    all_near = all_near && nodes.back().valid();
  }
  std::vector<Segment> segments;
  for (std::size_t leg = 0; all_near && leg + 1 < nodes.size(); ++leg) {
    const std::vector<Segment> way = leg_of_path(context, path, leg, {nodes[leg], nodes[leg + 1]});
    if (way.empty()) {
      return {};
    }
    warn_of_detour(context, path, leg, way, {nodes[leg], nodes[leg + 1]});
    segments.insert(segments.end(), way.begin(), way.end());
  }
  return segments;
}

// --- free edges and borders of regions ---------------------------------------------------------

std::vector<Segment> segments_of_rim(const MeshContext& context, const RawRaceTrack& track) {
  std::vector<Segment> segments = free_edges(context.mesh);
  if (segments.empty()) {
    add_error(context.findings, track.along->line, track.key + ".along",
              "found a part without free edges, expected a group of lines or two regions");
  }
  return segments;
}

/// Invalid if there is none of that name, which is reported with the values.
RegionId region_named(const RawCase& raw, const std::string& name) {
  const auto found = std::ranges::find_if(raw.regions, [&](const RawRegion& region) {
    return region.name && region.name->value == name;
  });
  return found == raw.regions.end() ? RegionId() : RegionId(found - raw.regions.begin());
}

std::vector<Segment> segments_of_border(const MeshContext& context, const RawRaceTrack& track,
                                        const PerElement<RegionId>& element_region) {
  const RegionId one = region_named(context.raw, track.between->value[0]);
  const RegionId other = region_named(context.raw, track.between->value[1]);
  if (!one.valid() || !other.valid()) {
    return {};
  }
  std::vector<Segment> segments = edges_between(context.mesh, element_region, one, other);
  const auto has_elements = [&](RegionId region) { // else an error was reported for it
    return std::ranges::find(element_region, region) != element_region.end();
  };
  if (segments.empty() && has_elements(one) && has_elements(other)) {
    add_error(context.findings, track.between->line, track.key + ".between",
              "found " + track.between->text +
                  ", which have no edge in common, expected two regions that touch and are joined "
                  "there by common nodes (a foot that only lies on the other region has none)");
  }
  return segments;
}

// --- channels ----------------------------------------------------------------------------------

std::vector<Segment> segments_of(const MeshContext& context, const RawRunner& runner) {
  if (runner.group && !runner.path) {
    return segments_of_group(context, *runner.group, runner.key + ".group");
  }
  return runner.path && !runner.group
             ? segments_of_path(context, *runner.path, runner.key + ".path")
             : std::vector<Segment>{};
}

std::vector<Segment> segments_of(const MeshContext& context, const RawRaceTrack& track,
                                 const PerElement<RegionId>& element_region) {
  const int places = (track.group ? 1 : 0) + (track.path ? 1 : 0) + (track.along ? 1 : 0) +
                     (track.between ? 1 : 0);
  if (places != 1) {
    return {};
  }
  if (track.group) {
    return segments_of_group(context, *track.group, track.key + ".group");
  }
  if (track.path) {
    return segments_of_path(context, *track.path, track.key + ".path");
  }
  return track.along ? segments_of_rim(context, track)
                     : segments_of_border(context, track, element_region);
}

Channel make_runner(const RawRunner& raw, const std::vector<Segment>& segments) {
  if (raw.bore) {
    const double bore = raw.bore->value;
    return runner(raw.name->value, segments, std::numbers::pi / 4 * bore * bore,
                  tube_permeability(bore));
  }
  const double width = raw.width->value;
  const double depth = raw.depth->value;
  return runner(raw.name->value, segments, width * depth, rectangle_permeability(width, depth));
}

/// One warning for each channel on edges of an earlier one: possible, but more likely a slip.
void warn_of_shared_edges(const MeshContext& context, const std::string& key, int line,
                          const std::vector<Segment>& segments,
                          std::map<Segment, std::string>& owners) {
  std::size_t shared = 0;
  std::string first;
  for (const Segment& segment : segments) {
    const auto [place, is_new] = owners.emplace(ascending(segment), key);
    first = shared == 0 && !is_new ? place->second : first;
    shared += is_new ? 0 : 1;
  }
  if (shared > 0) {
    add_warning(context.findings, line, key,
                "found " + std::to_string(shared) + " edges of the mesh that " + first +
                    " has too: resin gets both channels there, and both volumes");
  }
}

} // namespace

void put_channels(const MeshContext& context, FillProblem& problem) {
  const RawCase& raw = context.raw;
  std::map<Segment, std::string> owners;
  for (const RawRunner& given : raw.runners) {
    const std::vector<Segment> segments = each_once(segments_of(context, given));
    warn_of_shared_edges(context, given.key, given.line, segments, owners);
    if (context.findings.errors.empty()) {
      problem.channels.push_back(make_runner(given, segments));
    }
  }
  for (const RawRaceTrack& given : raw.race_tracks) {
    const std::vector<Segment> segments =
        each_once(segments_of(context, given, problem.element_region));
    warn_of_shared_edges(context, given.key, given.line, segments, owners);
    if (context.findings.errors.empty()) {
      problem.channels.push_back(race_track(given.name->value, problem, segments, given.gap->value,
                                            value_or_none(given.permeability)));
    }
  }
}

} // namespace tidemark
