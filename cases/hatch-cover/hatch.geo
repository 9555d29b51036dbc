// Inspection hatch cover, 600 mm by 400 mm, a flat plate in mm.
//   gmsh -2 -bin -format msh41 hatch.geo -o hatch.msh
length = 600;
width = 400;
size = 8;
Point(1) = {0, 0, 0, size};
Point(2) = {length, 0, 0, size};
Point(3) = {length, width, 0, size};
Point(4) = {0, width, 0, size};
Line(1) = {1, 2};
Line(2) = {2, 3};
Line(3) = {3, 4};
Line(4) = {4, 1};
Curve Loop(1) = {1, 2, 3, 4};
Plane Surface(1) = {1};
Physical Surface("cover") = {1};
Physical Point("gate corner") = {1};
Physical Point("corner B") = {2};
Physical Point("corner C") = {3};
Physical Point("corner D") = {4};
Mesh.Algorithm = 6;
