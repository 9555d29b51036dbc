#include "solver/meeting_lines.hpp"

#include "mesh/triangulation.hpp"

#include <algorithm>
#include <cstddef>
#include <map>
#include <optional>
#include <set>
#include <utility>

namespace tidemark {

namespace {

constexpr std::size_t fewest_edges = 5;
constexpr int smoothings = 10;

/// The middle of an edge between the resins of two gates.
struct Crossing {
  std::array<std::int32_t, 2> gates;
  Vector3 place;
  double time;
  std::vector<std::size_t> beside; // the next along the line
};

using Edge = std::pair<NodeId, NodeId>;

class Crossings {
public:
  Crossings(const ShellMesh& mesh, const PerNode<std::int32_t>& gate, const PerNode<double>& time,
            const std::vector<std::int32_t>& body)
      : mesh_(mesh), gate_(gate), time_(time), body_(body) {
    for (const auto& corners : triangulate(mesh).corners) {
      add_triangle(corners);
    }
  }

  std::vector<Crossing> take() { return std::move(all_); }

private:
  [[nodiscard]] std::int32_t body_of(NodeId node) const {
    return body_[static_cast<std::size_t>(gate_[node])];
  }

  /// The number of the crossing on an edge; none if both ends are of one body, or dry.
  std::optional<std::size_t> crossing(NodeId a, NodeId b) {
    if (gate_[a] < 0 || gate_[b] < 0 || body_of(a) == body_of(b)) {
      return std::nullopt;
    }
    const auto [found, is_new] = number_.emplace(Edge(std::min(a, b), std::max(a, b)), all_.size());
    if (is_new) {
      all_.push_back({{std::min(gate_[a], gate_[b]), std::max(gate_[a], gate_[b])},
                      0.5 * (mesh_.positions[a] + mesh_.positions[b]),
                      std::max(time_[a], time_[b]),
                      {}});
    }
    return found->second;
  }

  void add_triangle(const std::array<NodeId, 3>& corners) {
    std::vector<std::size_t> here;
    for (std::size_t i = 0; i < 3; ++i) {
      if (const auto number = crossing(corners[i], corners[(i + 1) % 3])) {
        here.push_back(*number);
      }
    }
    if (here.size() == 2 && all_[here[0]].gates == all_[here[1]].gates) { // of three gates none
      all_[here[0]].beside.push_back(here[1]);
      all_[here[1]].beside.push_back(here[0]);
    }
  }

  const ShellMesh& mesh_;
  const PerNode<std::int32_t>& gate_;
  const PerNode<double>& time_;
  const std::vector<std::int32_t>& body_;
  std::map<Edge, std::size_t> number_;
  std::vector<Crossing> all_;
};

/// Each crossing goes half of the way to the mean of its neighbours; ends stay.
void smooth(std::vector<Crossing>& crossings) {
  std::vector<Vector3> places;
  places.reserve(crossings.size());
  for (const Crossing& crossing : crossings) {
    Vector3 mean = Vector3::Zero();
    for (const std::size_t next : crossing.beside) {
      mean += crossings[next].place / static_cast<double>(crossing.beside.size());
    }
    places.push_back(crossing.beside.size() < 2 ? crossing.place
                                                : Vector3(0.5 * (crossing.place + mean)));
  }
  for (std::size_t i = 0; i < crossings.size(); ++i) {
    crossings[i].place = places[i];
  }
}

/// Those that hang together with one, taken off the list of what is left.
std::vector<std::size_t> line_from(std::size_t start, const std::vector<Crossing>& crossings,
                                   std::vector<char>& is_left) {
  std::vector<std::size_t> line = {start};
  is_left[start] = 0;
  for (std::size_t i = 0; i < line.size(); ++i) {
    for (const std::size_t next : crossings[line[i]].beside) {
      if (is_left[next] != 0) {
        is_left[next] = 0;
        line.push_back(next);
      }
    }
  }
  return line;
}

MeetingLine line_of(const std::vector<std::size_t>& members,
                    const std::vector<Crossing>& crossings) {
  const Crossing& start = crossings[members.front()];
  MeetingLine line{start.gates, 0, start.place, start.time, start.time};
  Vector3 mean = Vector3::Zero();
  for (const std::size_t i : members) {
    const Crossing& crossing = crossings[i];
    mean += crossing.place / static_cast<double>(members.size());
    line.first = std::min(line.first, crossing.time);
    line.last = std::max(line.last, crossing.time);
    for (const std::size_t next : crossing.beside) {
      line.length += 0.5 * (crossings[next].place - crossing.place).norm(); // from both its ends
    }
  }
  for (const std::size_t i : members) {
    const Vector3& place = crossings[i].place;
    line.middle = (place - mean).norm() < (line.middle - mean).norm() ? place : line.middle;
  }
  return line;
}

/// The gate whose resin lay beside a gate first, before that opened; the gate itself if none did.
std::int32_t found_there(const FillProblem& problem, const FillResult& result, std::int32_t gate) {
  const auto g = static_cast<std::size_t>(gate);
  double earliest = result.gates[g].opened_at.value_or(0);
  std::int32_t there = gate;
  const std::vector<NodeId>& own = problem.gates[g].nodes;
  const std::set<NodeId> nodes(own.begin(), own.end());
  for (const Element& element : problem.mesh.elements) {
    const auto corners = element.corners();
    if (std::ranges::none_of(corners, [&](NodeId node) { return nodes.contains(node); })) {
      continue;
    }
    for (const NodeId node : corners) {
      const bool is_other = !nodes.contains(node) && result.gate_index[node] >= 0;
      if (is_other && result.fill_time_field[node] < earliest) {
        earliest = result.fill_time_field[node];
        there = result.gate_index[node];
      }
    }
  }
  return there;
}

/// The first gate of the body that each gate's resin belongs to.
std::vector<std::int32_t> bodies_of(const FillProblem& problem, const FillResult& result) {
  std::vector<std::int32_t> before;
  for (std::size_t g = 0; g < problem.gates.size(); ++g) {
    before.push_back(found_there(problem, result, static_cast<std::int32_t>(g)));
  }
  std::vector<std::int32_t> body = before;
  for (std::size_t turn = 0; turn < before.size(); ++turn) { // the longest chain
    for (std::int32_t& gate : body) {
      gate = before[static_cast<std::size_t>(gate)];
    }
  }
  return body;
}

} // namespace

std::vector<MeetingLine> meeting_lines(const FillProblem& problem, const FillResult& result) {
  if (result.gate_index.empty() || problem.gates.size() < 2) {
    return {};
  }
  return meeting_lines(problem.mesh, result.gate_index, result.fill_time_field,
                       bodies_of(problem, result));
}

std::vector<MeetingLine> meeting_lines(const ShellMesh& mesh, const PerNode<std::int32_t>& gate,
                                       const PerNode<double>& time,
                                       const std::vector<std::int32_t>& body) {
  if (gate.empty()) {
    return {};
  }
  std::vector<Crossing> crossings = Crossings(mesh, gate, time, body).take();
  for (int i = 0; i < smoothings; ++i) {
    smooth(crossings);
  }
  std::vector<char> is_left(crossings.size(), 1);
  std::vector<MeetingLine> lines;
  for (std::size_t i = 0; i < crossings.size(); ++i) {
    if (is_left[i] == 0) {
      continue;
    }
    const std::vector<std::size_t> members = line_from(i, crossings, is_left);
    if (members.size() >= fewest_edges) {
      lines.push_back(line_of(members, crossings));
    }
  }
  std::ranges::stable_sort(lines, [](const MeetingLine& a, const MeetingLine& b) {
    return a.gates != b.gates ? a.gates < b.gates : a.length > b.length;
  });
  return lines;
}

} // namespace tidemark
