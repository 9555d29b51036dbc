// Lines through points on the sides of a square grid: borders between outcomes, and contours.
#pragma once

#include <cstddef>
#include <vector>

namespace tidemark {

/// A place of the window: 0 at the low end of each axis, 1 at the high end, equal ratios between.
struct WindowPlace {
  double flow = 0, cap = 0;
};

/// A point on a side of the grid through which the line of that key passes.
struct SideCrossing {
  WindowPlace place;
  int key = 0;
};

/// Crossings on the sides of a grid of points x points; side (i, j) begins at point (i, j).
struct GridSides {
  explicit GridSides(std::size_t count)
      : points(count), along_flow(count * count), along_cap(count * count) {}
  std::size_t points;
  std::vector<std::vector<SideCrossing>> along_flow; // [j * points + i], to (i + 1, j)
  std::vector<std::vector<SideCrossing>> along_cap;  // [j * points + i], to (i, j + 1)
};

/// Straight pieces of lines, each within one mesh of the grid.
struct LineNet {
  struct Piece {
    int key;
    std::size_t from, to; // in nodes
    std::size_t mesh;     // j * points + i
  };
  std::vector<WindowPlace> nodes;
  std::vector<Piece> pieces;
};

/// Joins, in each mesh of the grid, the crossings of one key: two by a straight piece, four by the
/// two shortest. Where lines of three keys and more meet, their ends are joined to the middle.
LineNet joined(const GridSides& sides);

struct KeyedLine {
  int key;
  std::vector<WindowPlace> places; // a closed line ends where it begins
};

/// The pieces end to end, key by key.
std::vector<KeyedLine> chained(const LineNet& net);

} // namespace tidemark
