// Flat strip of three zones one behind the other, 0.3 + 0.3 + 0.4 m long, 0.3 m wide, in mm.
//   gmsh -2 -bin -format msh41 zones.geo -o zones.msh
width = 300;
size = 10;
at() = {0, 300, 600, 1000};
For i In {0 : 3}
  Point(2 * i + 1) = {at(i), 0, 0, size};
  Point(2 * i + 2) = {at(i), width, 0, size};
  Line(10 + i) = {2 * i + 1, 2 * i + 2}; // across the strip
EndFor
For i In {0 : 2}
  Line(20 + i) = {2 * i + 1, 2 * i + 3};
  Line(30 + i) = {2 * i + 2, 2 * i + 4};
  Curve Loop(40 + i) = {20 + i, 11 + i, -(30 + i), -(10 + i)};
  Plane Surface(i + 1) = {40 + i};
EndFor
Physical Surface("zone 1") = {1};
Physical Surface("zone 2") = {2};
Physical Surface("zone 3") = {3};
Physical Curve("gate end") = {10};
Physical Curve("end of zone 1") = {11};
Physical Curve("end of zone 2") = {12};
Physical Curve("end of zone 3") = {13};
Mesh.Algorithm = 6;
