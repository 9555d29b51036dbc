// Deck plank of a sightseeing boat, 6 m by 300 mm, a flat plate in mm; five gate ports along its middle line.
//   gmsh -2 -bin -format msh41 plank.geo -o plank.msh
length = 6000;
width = 300;
ports = 5;
spacing = 1200;       // from port to port; the first lies half of that from the end
port_radius = 7.98;   // just inside 8 mm, so that a port of 8 mm takes this circle whatever the round-off
size = 20;
port_size = 3;
Point(1) = {0, 0, 0};
Point(2) = {length, 0, 0};
Point(3) = {length, width, 0};
Point(4) = {0, width, 0};
Line(1) = {1, 2};
Line(2) = {2, 3};
Line(3) = {3, 4};
Line(4) = {4, 1};
Curve Loop(1) = {1, 2, 3, 4};
holes() = {};
discs() = {};
middles() = {};
For i In {0 : ports - 1}
  x = spacing / 2 + i * spacing;
  p = newp;
  Point(p) = {x, width / 2, 0};
  Point(p + 1) = {x + port_radius, width / 2, 0};
  Point(p + 2) = {x - port_radius, width / 2, 0};
  c = newc;
  Circle(c) = {p + 1, p, p + 2};
  Circle(c + 1) = {p + 2, p, p + 1};
  l = newll;
  Curve Loop(l) = {c, c + 1};
  s = news;
  Plane Surface(s) = {l};
  Point{p} In Surface{s};
  holes() += l;
  discs() += s;
  middles() += p;
EndFor
plank = news;
Plane Surface(plank) = {1, holes()};
Physical Surface("plank") = {plank, discs()};
Physical Curve("near end") = {4};
Physical Curve("far end") = {2};
Physical Point("ports") = {middles()};

Mesh.MeshSizeFromPoints = 0;
Mesh.MeshSizeFromCurvature = 0;
Mesh.MeshSizeExtendFromBoundary = 0;
Field[1] = Distance;
Field[1].PointsList = {middles()};
Field[2] = Threshold;
Field[2].InField = 1;
Field[2].SizeMin = port_size;
Field[2].SizeMax = size;
Field[2].DistMin = port_radius;
Field[2].DistMax = 100;
Background Field = 2;
Mesh.Algorithm = 6;
