// Flat strip, 1 m long, 0.3 m wide, in mm; about 100 elements along.
//   gmsh -2 -bin -format msh41 strip.geo -o strip.msh
length = 1000;
width = 300;
size = 10;
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
Physical Surface("strip") = {1};
Physical Curve("gate end") = {4};
Physical Curve("vent end") = {2};
Mesh.Algorithm = 6;
