#include "io/window_lines.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace tidemark {

namespace {

double distance(const WindowPlace& a, const WindowPlace& b) {
  return std::hypot(a.flow - b.flow, a.cap - b.cap);
}

/// Crossings as nodes of the net, side by side.
struct SideNodes {
  std::vector<std::vector<std::size_t>> along_flow, along_cap;
};

/// Joins within one mesh.
class MeshJoiner {
public:
  MeshJoiner(LineNet& net, std::size_t mesh) : net_(net), mesh_(mesh) {}

  void add(int key, std::size_t node) { by_key_[key].push_back(node); }

  void join() {
    std::vector<std::pair<int, std::size_t>> ends; // of lines that meet others
    for (auto& [key, nodes] : by_key_) {
      while (nodes.size() > 1 && !(nodes.size() == 3 && by_key_.size() > 1)) {
        take_nearest(key, nodes);
      }
      for (const std::size_t node : nodes) {
        ends.emplace_back(key, node);
      }
    }
    if (ends.size() > 1) {
      meet(ends);
    }
  }

private:
  /// The two of four nearest to each other, of two both.
  void take_nearest(int key, std::vector<std::size_t>& nodes) {
    std::size_t a = 0;
    std::size_t b = 1;
    for (std::size_t i = 0; i < nodes.size(); ++i) {
      for (std::size_t j = i + 1; j < nodes.size(); ++j) {
        if (distance(net_.nodes[nodes[i]], net_.nodes[nodes[j]]) <
            distance(net_.nodes[nodes[a]], net_.nodes[nodes[b]])) {
          a = i;
          b = j;
        }
      }
    }
    net_.pieces.push_back({key, nodes[a], nodes[b], mesh_});
    nodes.erase(nodes.begin() + static_cast<std::ptrdiff_t>(b));
    nodes.erase(nodes.begin() + static_cast<std::ptrdiff_t>(a));
  }

  void meet(const std::vector<std::pair<int, std::size_t>>& ends) {
    WindowPlace middle;
    for (const auto& [key, node] : ends) {
      middle.flow += net_.nodes[node].flow / static_cast<double>(ends.size());
      middle.cap += net_.nodes[node].cap / static_cast<double>(ends.size());
    }
    net_.nodes.push_back(middle);
    for (const auto& [key, node] : ends) {
      net_.pieces.push_back({key, node, net_.nodes.size() - 1, mesh_});
    }
  }

  LineNet& net_;
  std::size_t mesh_;
  std::map<int, std::vector<std::size_t>> by_key_;
};

/// One line from a node on along pieces not yet taken.
std::vector<std::size_t> walk(const LineNet& net, std::size_t from,
                              const std::vector<std::vector<std::size_t>>& pieces_at,
                              std::vector<bool>& is_taken) {
  std::vector<std::size_t> line{from};
  for (bool goes_on = true; goes_on;) {
    goes_on = false;
    for (const std::size_t p : pieces_at[line.back()]) {
      if (!is_taken[p]) {
        is_taken[p] = true;
        const LineNet::Piece& piece = net.pieces[p];
        line.push_back(piece.from == line.back() ? piece.to : piece.from);
        goes_on = true;
        break;
      }
    }
  }
  return line;
}

} // namespace

LineNet joined(const GridSides& sides) {
  LineNet net;
  SideNodes nodes;
  const auto add = [&](const std::vector<std::vector<SideCrossing>>& crossings) {
    std::vector<std::vector<std::size_t>> of_sides(crossings.size());
    for (std::size_t s = 0; s < crossings.size(); ++s) {
      for (const SideCrossing& crossing : crossings[s]) {
        of_sides[s].push_back(net.nodes.size());
        net.nodes.push_back(crossing.place);
      }
    }
    return of_sides;
  };
  nodes.along_flow = add(sides.along_flow);
  nodes.along_cap = add(sides.along_cap);
  const std::size_t n = sides.points;
  for (std::size_t j = 0; j + 1 < n; ++j) {
    for (std::size_t i = 0; i + 1 < n; ++i) {
      const std::size_t mesh = j * n + i;
      MeshJoiner joiner(net, mesh);
      const auto collect = [&](const std::vector<SideCrossing>& crossings,
                               const std::vector<std::size_t>& of_side) {
        for (std::size_t k = 0; k < crossings.size(); ++k) {
          joiner.add(crossings[k].key, of_side[k]);
        }
      };
      collect(sides.along_flow[mesh], nodes.along_flow[mesh]);
      collect(sides.along_flow[mesh + n], nodes.along_flow[mesh + n]);
      collect(sides.along_cap[mesh], nodes.along_cap[mesh]);
      collect(sides.along_cap[mesh + 1], nodes.along_cap[mesh + 1]);
      joiner.join();
    }
  }
  return net;
}

std::vector<KeyedLine> chained(const LineNet& net) {
  std::map<int, std::vector<std::size_t>> by_key;
  for (std::size_t p = 0; p < net.pieces.size(); ++p) {
    by_key[net.pieces[p].key].push_back(p);
  }
  std::vector<KeyedLine> lines;
  std::vector<bool> is_taken(net.pieces.size(), false);
  for (const auto& [key, pieces] : by_key) {
    std::vector<std::vector<std::size_t>> pieces_at(net.nodes.size());
    for (const std::size_t p : pieces) {
      pieces_at[net.pieces[p].from].push_back(p);
      pieces_at[net.pieces[p].to].push_back(p);
    }
    for (const bool is_closed : {false, true}) { // lines with two ends first
      for (const std::size_t p : pieces) {
        for (const std::size_t node : {net.pieces[p].from, net.pieces[p].to}) {
          if (is_taken[p] || (!is_closed && pieces_at[node].size() % 2 == 0)) {
            continue;
          }
          KeyedLine line{key, {}};
          for (const std::size_t passed : walk(net, node, pieces_at, is_taken)) {
            line.places.push_back(net.nodes[passed]);
          }
          lines.push_back(std::move(line));
        }
      }
    }
  }
  return lines;
}

} // namespace tidemark
