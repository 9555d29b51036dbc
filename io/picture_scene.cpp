#include "io/picture_scene.hpp"

#include "io/picture_font.hpp"
#include "io/picture_labels.hpp"
#include "mesh/triangulation.hpp"

#include <vtkActor.h>
#include <vtkActor2D.h>
#include <vtkAutoInit.h>
#include <vtkCamera.h>
#include <vtkCellArray.h>
#include <vtkCellData.h>
#include <vtkClipPolyData.h>
#include <vtkContourFilter.h>
#include <vtkFeatureEdges.h>
#include <vtkFloatArray.h>
#include <vtkGenericOpenGLRenderWindow.h>
#include <vtkLookupTable.h>
#include <vtkNew.h>
#include <vtkPNGWriter.h>
#include <vtkPointData.h>
#include <vtkPoints.h>
#include <vtkPolyData.h>
#include <vtkPolyDataMapper.h>
#include <vtkPolyDataMapper2D.h>
#include <vtkProperty.h>
#include <vtkProperty2D.h>
#include <vtkRenderer.h>
#include <vtkTextActor.h>
#include <vtkTextProperty.h>
#include <vtkTextRenderer.h>
#include <vtkUnsignedCharArray.h>
#include <vtkWindowToImageFilter.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <stdexcept>

// The modules that draw, which VTK finds by their names only.
VTK_MODULE_INIT(vtkRenderingOpenGL2)
VTK_MODULE_INIT(vtkRenderingFreeType)

namespace tidemark {

namespace {

constexpr Rgb ink = {0x20, 0x20, 0x20};
constexpr Rgb white = {255, 255, 255};
constexpr Rgb signal = {0xd5, 0x5e, 0x00}; // vermillion
constexpr int dots_per_inch = 72;          // a point of a font is then a pixel
constexpr int text_size = 22;              // legible with the picture at 1000 pixels across
constexpr double column_width = 370;       // of the explanations on the right
constexpr double margin = 40;
constexpr double mark_radius = 11;

void set_colour(vtkProperty& property, Rgb colour) {
  property.SetColor(colour.red / 255.0, colour.green / 255.0, colour.blue / 255.0);
}

// ---- The part ----

/// Positions from the middle of the picture, so that single precision is enough for them.
vtkSmartPointer<vtkPoints> points_of(const ShellMesh& mesh, const Vector3& centre) {
  auto points = vtkSmartPointer<vtkPoints>::New();
  points->SetDataTypeToFloat();
  points->SetNumberOfPoints(static_cast<vtkIdType>(mesh.positions.size()));
  for (const NodeId node : mesh.positions.ids()) {
    const Vector3 place = mesh.positions[node] - centre;
    points->SetPoint(node.value(), place.data());
  }
  return points;
}

vtkSmartPointer<vtkPolyData> surface_of(vtkPoints& points, const Triangulation& triangulation) {
  vtkNew<vtkCellArray> cells;
  for (const std::array<NodeId, 3>& corners : triangulation.corners) {
    const std::array<vtkIdType, 3> ids = {corners[0].value(), corners[1].value(),
                                          corners[2].value()};
    cells->InsertNextCell(3, ids.data());
  }
  auto surface = vtkSmartPointer<vtkPolyData>::New();
  surface->SetPoints(&points);
  surface->SetPolys(cells);
  return surface;
}

vtkSmartPointer<vtkFloatArray> node_array(const char* name, const PerNode<double>& values) {
  auto array = vtkSmartPointer<vtkFloatArray>::New();
  array->SetName(name);
  array->SetNumberOfTuples(static_cast<vtkIdType>(values.size()));
  for (const NodeId node : values.ids()) {
    array->SetValue(node.value(), static_cast<float>(values[node]));
  }
  return array;
}

vtkSmartPointer<vtkLookupTable> table_of(const FieldColours& field) {
  constexpr int colours = 256;
  auto table = vtkSmartPointer<vtkLookupTable>::New();
  table->SetNumberOfTableValues(colours);
  table->SetTableRange(field.scale.low, field.scale.high);
  for (int k = 0; k < colours; ++k) {
    const Rgb colour = lightened(map_colour(k / (colours - 1.0)), field.paleness);
    table->SetTableValue(k, colour.red / 255.0, colour.green / 255.0, colour.blue / 255.0);
  }
  return table;
}

/// Mostly its own colour, so that it can be compared with the colour bar; a little darker where it
/// turns away, so that the shape can be seen.
void light(vtkProperty& property) {
  property.SetAmbient(0.7);
  property.SetDiffuse(0.3);
  property.SetSpecular(0);
}

/// Renderer and what is added to it; lengths that keep lines clear of the surface they lie on.
struct Scene {
  vtkRenderer& renderer;
  const ShellMesh& mesh;
  Projection projection;
  double extent; // of the part [m]
};

vtkSmartPointer<vtkActor> add_surface(Scene& scene, vtkPolyDataMapper& mapper) {
  auto actor = vtkSmartPointer<vtkActor>::New();
  actor->SetMapper(&mapper);
  light(*actor->GetProperty());
  scene.renderer.AddActor(actor);
  return actor;
}

/// Lines brought towards the eye by so many thousandths of the part: with a parallel projection
/// they stay where they are on the picture.
void add_lines(Scene& scene, vtkPolyData& lines, Rgb colour, double width, double thousandths) {
  vtkNew<vtkPolyDataMapper> mapper;
  mapper->SetInputData(&lines);
  mapper->ScalarVisibilityOff();
  vtkNew<vtkActor> actor;
  actor->SetMapper(mapper);
  const Vector3 shift = thousandths * 1e-3 * scene.extent * scene.projection.view.toward;
  actor->SetPosition(shift.x(), shift.y(), shift.z());
  actor->GetProperty()->LightingOff();
  actor->GetProperty()->SetLineWidth(static_cast<float>(width));
  set_colour(*actor->GetProperty(), colour);
  scene.renderer.AddActor(actor);
}

void add_level_lines(Scene& scene, vtkPolyData& surface, const ValueScale& scale) {
  vtkNew<vtkContourFilter> contour;
  contour->SetInputData(&surface);
  int count = 0;
  for (const Tick& tick : scale.ticks) {
    if (tick.is_round && tick.value > scale.low && tick.value < scale.high) {
      contour->SetValue(count++, tick.value);
    }
  }
  contour->SetNumberOfContours(count);
  contour->Update();
  add_lines(scene, *contour->GetOutput(), ink, 1.5, 2);
}

void add_grey_surface(Scene& scene, vtkPolyData& surface) {
  vtkNew<vtkPolyDataMapper> mapper;
  mapper->SetInputData(&surface);
  mapper->ScalarVisibilityOff();
  set_colour(*add_surface(scene, *mapper)->GetProperty(), no_value_colour);
}

void add_field(Scene& scene, vtkPolyData& surface, const FieldColours& field) {
  surface.GetPointData()->SetScalars(node_array("coverage", field.coverage));
  surface.GetPointData()->AddArray(node_array("value", field.values));
  vtkNew<vtkClipPolyData> clip;
  clip->SetInputData(&surface);
  clip->SetValue(0.5);
  clip->GenerateClippedOutputOn();
  clip->Update();
  vtkPolyData& covered = *clip->GetOutput();
  covered.GetPointData()->SetActiveScalars("value");
  add_grey_surface(scene, *clip->GetClippedOutput());
  vtkNew<vtkPolyDataMapper> mapper;
  mapper->SetInputData(&covered);
  mapper->SetLookupTable(table_of(field));
  mapper->UseLookupTableScalarRangeOn();
  mapper->InterpolateScalarsBeforeMappingOn();
  add_surface(scene, *mapper);
  add_level_lines(scene, covered, field.scale);
}

void add_elements(Scene& scene, vtkPolyData& surface, const Triangulation& triangulation,
                  const ElementColours& colours) {
  vtkNew<vtkUnsignedCharArray> array;
  array->SetNumberOfComponents(3);
  for (const ElementId element : triangulation.element) {
    const Rgb colour = colours[element];
    array->InsertNextTuple3(colour.red, colour.green, colour.blue);
  }
  surface.GetCellData()->SetScalars(array);
  vtkNew<vtkPolyDataMapper> mapper;
  mapper->SetInputData(&surface);
  add_surface(scene, *mapper);
}

/// Rim, joints and creases.
void add_outline(Scene& scene, vtkPolyData& surface) {
  vtkNew<vtkFeatureEdges> edges;
  edges->SetInputData(&surface);
  edges->SetFeatureAngle(40);
  edges->ColoringOff();
  edges->Update();
  add_lines(scene, *edges->GetOutput(), {0x60, 0x60, 0x60}, 1.5, 1);
}

void add_picture_line(Scene& scene, vtkPoints& points, const PictureLine& line,
                      double thousandths) {
  vtkNew<vtkCellArray> cells;
  for (const auto& [from, to] : line.segments) {
    const std::array<vtkIdType, 2> ids = {from.value(), to.value()};
    cells->InsertNextCell(2, ids.data());
  }
  vtkNew<vtkPolyData> lines;
  lines->SetPoints(&points);
  lines->SetLines(cells);
  add_lines(scene, *lines, line.colour, line.width, thousandths);
}

void aim(Scene& scene, const PictureSize& size) {
  const Projection& projection = scene.projection;
  const PictureView& view = projection.view;
  const Vector3 middle = ((size.width / 2.0 - projection.centre_pixel.x) * view.right +
                          (size.height / 2.0 - projection.centre_pixel.y) * view.up) /
                         projection.scale; // of the picture, from the centre of the part
  const Vector3 eye = middle + 3 * scene.extent * view.toward;
  vtkCamera& camera = *scene.renderer.GetActiveCamera();
  camera.ParallelProjectionOn();
  camera.SetFocalPoint(middle.data());
  camera.SetPosition(eye.data());
  camera.SetViewUp(view.up.data());
  camera.SetParallelScale(size.height / 2.0 / projection.scale);
  scene.renderer.ResetCameraClippingRange();
}

// ---- What lies flat on the picture ----

enum class Justify { left, centre, right };

/// Coloured polygons and texts in pixels, the later over the earlier, texts over all polygons and
/// therefore in a renderer that lies above.
class Overlay {
public:
  Overlay(vtkRenderer& shapes, vtkRenderer& texts)
      : shape_renderer_(shapes), text_renderer_(texts) {}

  void polygon(std::vector<Pixel> corners, Rgb colour) {
    polygons_.push_back({std::move(corners), colour});
  }

  void box(const PixelBox& box, Rgb colour) {
    polygon({{box.left, box.bottom},
             {box.right, box.bottom},
             {box.right, box.top},
             {box.left, box.top}},
            colour);
  }

  void line(const Pixel& from, const Pixel& to, double width, Rgb colour) {
    const double length = std::hypot(to.x - from.x, to.y - from.y);
    if (length > 0) {
      const double x = -(to.y - from.y) / length * width / 2;
      const double y = (to.x - from.x) / length * width / 2;
      polygon({{from.x + x, from.y + y},
               {from.x - x, from.y - y},
               {to.x - x, to.y - y},
               {to.x + x, to.y + y}},
              colour);
    }
  }

  /// Regular, its first corner straight up.
  void regular(const Pixel& middle, int corners, double radius, Rgb colour) {
    std::vector<Pixel> places;
    for (int k = 0; k < corners; ++k) {
      const double angle = 2 * std::numbers::pi * k / corners + std::numbers::pi / 2;
      places.push_back({middle.x + radius * std::cos(angle), middle.y + radius * std::sin(angle)});
    }
    polygon(places, colour);
  }

  static void set_font(vtkTextProperty& property, const std::string& text, int size, bool is_bold) {
    const std::string file = font_file_for(text, is_bold);
    if (file.empty()) {
      property.SetFontFamilyToArial();
      property.SetBold(is_bold ? 1 : 0);
    } else {
      property.SetFontFamily(VTK_FONT_FILE);
      property.SetFontFile(file.c_str());
    }
    property.SetFontSize(size);
  }

  static double width_of(const std::string& text, int size, bool is_bold = false) {
    vtkNew<vtkTextProperty> property;
    set_font(*property, text, size, is_bold);
    std::array<int, 4> box{};
    vtkTextRenderer::GetInstance()->GetBoundingBox(property, text, box.data(), dots_per_inch);
    return box[1] - box[0] + 1;
  }

  /// Cut at the end, with dots, to what fits.
  static std::string fitted(std::string text, int size, double width, bool is_bold = false) {
    if (width_of(text, size, is_bold) <= width) {
      return text;
    }
    do {
      while (text.size() > 1 && (static_cast<unsigned char>(text.back()) & 0xC0U) == 0x80U) {
        text.pop_back(); // never half a letter of UTF-8
      }
      text.pop_back();
    } while (!text.empty() && width_of(text + "...", size, is_bold) > width);
    return text + "...";
  }

  /// At the baseline, more or less: y is the middle of small letters.
  void text(const std::string& text, const Pixel& place, int size, Justify justify,
            bool is_bold = false, Rgb colour = ink) {
    if (text.empty()) {
      return;
    }
    vtkNew<vtkTextActor> actor;
    actor->SetInput(text.c_str());
    vtkTextProperty& property = *actor->GetTextProperty();
    set_font(property, text, size, is_bold);
    property.SetColor(colour.red / 255.0, colour.green / 255.0, colour.blue / 255.0);
    property.SetJustification(justify == Justify::left     ? VTK_TEXT_LEFT
                              : justify == Justify::centre ? VTK_TEXT_CENTERED
                                                           : VTK_TEXT_RIGHT);
    property.SetVerticalJustificationToCentered();
    actor->SetPosition(place.x, place.y);
    texts_.push_back(actor);
  }

  void show() {
    vtkNew<vtkPoints> points;
    vtkNew<vtkCellArray> cells;
    vtkNew<vtkUnsignedCharArray> colours;
    colours->SetNumberOfComponents(3);
    // Of polygons in one place VTK keeps the first.
    for (auto polygon = polygons_.rbegin(); polygon != polygons_.rend(); ++polygon) {
      cells->InsertNextCell(static_cast<int>(polygon->corners.size()));
      for (const Pixel& corner : polygon->corners) {
        cells->InsertCellPoint(points->InsertNextPoint(corner.x, corner.y, 0));
      }
      colours->InsertNextTuple3(polygon->colour.red, polygon->colour.green, polygon->colour.blue);
    }
    vtkNew<vtkPolyData> shapes;
    shapes->SetPoints(points);
    shapes->SetPolys(cells);
    shapes->GetCellData()->SetScalars(colours);
    vtkNew<vtkPolyDataMapper2D> mapper;
    mapper->SetInputData(shapes);
    vtkNew<vtkActor2D> actor;
    actor->SetMapper(mapper);
    shape_renderer_.AddActor2D(actor);
    for (const auto& text : texts_) {
      text_renderer_.AddActor2D(text);
    }
  }

private:
  struct Polygon {
    std::vector<Pixel> corners;
    Rgb colour;
  };
  vtkRenderer& shape_renderer_;
  vtkRenderer& text_renderer_;
  std::vector<Polygon> polygons_;
  std::vector<vtkSmartPointer<vtkTextActor>> texts_;
};

void draw_mark(Overlay& overlay, const Pixel& place, MarkKind kind, const std::string& sign) {
  constexpr int round = 32;
  const double radius = sign.empty() ? mark_radius : mark_radius + 4;
  Rgb letter = ink;
  switch (kind) {
  case MarkKind::gate:
    overlay.regular(place, round, radius + 2, white);
    overlay.regular(place, round, radius, ink);
    overlay.regular(place, round, radius / 3, white);
    break;
  case MarkKind::vent:
    overlay.regular(place, 3, radius + 7, ink);
    overlay.regular(place, 3, radius + 1, white);
    break;
  case MarkKind::last_place:
    overlay.regular(place, round, radius + 2, ink);
    overlay.regular(place, round, radius, white);
    break;
  case MarkKind::shut_in_air:
    overlay.regular(place, 4, radius + 8, white);
    overlay.regular(place, 4, radius + 5, signal);
    letter = white;
    break;
  case MarkKind::closed_air:
    overlay.regular(place, 4, radius + 8, signal);
    overlay.regular(place, 4, radius + 5, white);
    break;
  case MarkKind::dry:
    overlay.regular(place, 4, radius + 8, white);
    overlay.regular(place, 4, radius + 5, ink);
    letter = white;
    break;
  }
  overlay.text(sign, place, 20, Justify::centre, true, letter);
}

/// The name, cut if it is very long.
std::string shown_label(const PictureMark& mark) {
  return Overlay::fitted(mark.label, text_size, 320);
}

/// What stands beside a mark: its name, or, of one with a sign in it, the mark itself, so that the
/// place stays to be seen.
LabelSize size_beside(const PictureMark& mark) {
  constexpr double balloon = 40;
  return mark.sign.empty()
             ? LabelSize{Overlay::width_of(shown_label(mark), text_size) + 12, text_size + 10.0}
             : LabelSize{balloon, balloon};
}

void draw_beside(Overlay& overlay, const PictureMark& mark, const PixelBox& box) {
  const Pixel middle{(box.left + box.right) / 2, (box.bottom + box.top) / 2};
  if (!mark.sign.empty()) {
    draw_mark(overlay, middle, mark.kind, mark.sign);
    return;
  }
  overlay.box({box.left - 1, box.bottom - 1, box.right + 1, box.top + 1}, ink);
  overlay.box(box, white);
  overlay.text(shown_label(mark), middle, text_size, Justify::centre);
}

/// Marks, and names and signs beside them on lines that lead to the place.
void draw_marks(Overlay& overlay, const Scene& scene, const Picture& picture,
                const PixelBox& bounds) {
  std::vector<PixelBox> taken;
  std::vector<LabelSize> sizes;
  std::vector<const PictureMark*> named;
  std::vector<Pixel> anchors;
  for (const PictureMark& mark : picture.marks) {
    const Pixel place = scene.projection(mark.place);
    const double radius = mark_radius + 4;
    taken.push_back({place.x - radius, place.y - radius, place.x + radius, place.y + radius});
    if (!mark.label.empty() || !mark.sign.empty()) {
      named.push_back(&mark);
      anchors.push_back(place);
      sizes.push_back(size_beside(mark));
    }
  }
  const std::vector<PixelBox> boxes = place_labels(anchors, sizes, bounds, taken);
  for (std::size_t i = 0; i < boxes.size(); ++i) {
    const Pixel end{(boxes[i].left + boxes[i].right) / 2, (boxes[i].bottom + boxes[i].top) / 2};
    overlay.line(anchors[i], end, 5, white);
    overlay.line(anchors[i], end, 2, ink);
  }
  for (std::size_t i = 0; i < boxes.size(); ++i) {
    draw_beside(overlay, *named[i], boxes[i]);
  }
  for (const PictureMark& mark : picture.marks) {
    const Pixel place = scene.projection(mark.place);
    if (mark.sign.empty()) {
      draw_mark(overlay, place, mark.kind, "");
    } else {
      overlay.regular(place, 16, 6, white);
      overlay.regular(place, 16, 4, ink);
    }
  }
}

/// From the top down; returns where it ends.
double draw_colour_bar(Overlay& overlay, const FieldColours& field, const Pixel& top_left,
                       double height) {
  constexpr int stripes = 256;
  constexpr double width = 36;
  const double bottom = top_left.y - height;
  overlay.box({top_left.x - 1, bottom - 1, top_left.x + width + 1, top_left.y + 1}, ink);
  for (int k = 0; k < stripes; ++k) {
    overlay.box({top_left.x, bottom + height * k / stripes, top_left.x + width,
                 bottom + height * (k + 1) / stripes},
                lightened(map_colour((k + 0.5) / stripes), field.paleness));
  }
  for (const Tick& tick : field.scale.ticks) {
    const double share = (tick.value - field.scale.low) / (field.scale.high - field.scale.low);
    const double y = bottom + share * height;
    const double from = tick.is_round ? top_left.x : top_left.x + width;
    overlay.line({from, y}, {top_left.x + width + 8, y}, 1.5, ink);
    overlay.text(tick.text, {top_left.x + width + 16, y}, text_size, Justify::left);
  }
  return bottom;
}

void draw_legend(Overlay& overlay, const std::vector<LegendRow>& rows, Pixel place, double bottom) {
  const double room_for_each = (place.y - bottom) / static_cast<double>(rows.size());
  const double spacing = std::clamp(room_for_each, 26.0, 36.0);
  const double fit = std::floor((place.y - bottom) / spacing);
  const double room = column_width - margin;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const LegendRow& row = rows[i];
    if (static_cast<double>(i) + 1 > fit) {
      return;
    }
    const Pixel symbol{place.x + 17, place.y};
    double indent = 46;
    if (const auto* kind = std::get_if<MarkKind>(&row.symbol)) {
      draw_mark(overlay, symbol, *kind, row.sign);
    } else if (const auto* colour = std::get_if<Rgb>(&row.symbol)) {
      overlay.box({place.x, place.y - 11, place.x + 34, place.y + 11}, ink);
      overlay.box({place.x + 1, place.y - 10, place.x + 33, place.y + 10}, *colour);
    } else if (const auto* line = std::get_if<PictureLine>(&row.symbol)) {
      overlay.line({place.x, place.y}, {place.x + 34, place.y}, line->width, line->colour);
    } else {
      indent = row.is_indented ? indent : 0;
    }
    overlay.text(Overlay::fitted(row.text, text_size, room - indent), {place.x + indent, place.y},
                 text_size, Justify::left);
    place.y -= spacing;
  }
}

void draw_scale_bar(Overlay& overlay, const Projection& projection, const Pixel& place) {
  const ScaleBar bar = scale_bar(projection.scale, 260);
  const double length = bar.length * projection.scale;
  const Pixel end{place.x + length, place.y};
  overlay.line(place, end, 4, ink);
  for (const Pixel& tip : {place, end}) {
    overlay.line({tip.x, tip.y - 8}, {tip.x, tip.y + 8}, 2, ink);
  }
  overlay.text(bar.text, {place.x + length + 18, place.y}, text_size, Justify::left);
}

/// Where x, y and z of the mesh point; the lowest end at a place.
void draw_axes(Overlay& overlay, const PictureView& view, const Pixel& lowest) {
  constexpr double length = 40;
  constexpr std::array<const char*, 3> names = {"x", "y", "z"};
  const double below = std::min(0.0, view.up.minCoeff());
  const Pixel start{lowest.x, lowest.y - length * below};
  for (int axis = 0; axis < 3; ++axis) {
    const double x = view.right[axis];
    const double y = view.up[axis];
    const double size = std::hypot(x, y);
    if (size < 0.1) {
      continue; // it points at the eye, or away
    }
    const Pixel tip{start.x + length * x, start.y + length * y};
    overlay.line(start, tip, 3, ink);
    // z beside its tip: seen from above, y and z point the same way.
    const bool is_beside = axis == 2;
    overlay.text(
        names[static_cast<std::size_t>(axis)],
        {tip.x + 14 * (is_beside ? -y : x) / size, tip.y + 14 * (is_beside ? x : y) / size},
        text_size, Justify::centre);
  }
}

void draw_titles(Overlay& overlay, const Picture& picture, const PictureSize& size) {
  const double room = size.width - 2 * margin;
  overlay.text(Overlay::fitted(picture.title, 34, room, true), {margin, size.height - 44.0}, 34,
               Justify::left, true);
  overlay.text(Overlay::fitted(picture.verdict, 24, room), {margin, size.height - 90.0}, 24,
               Justify::left);
}

void draw_column(Overlay& overlay, const Picture& picture, const PictureSize& size) {
  const double left = size.width - column_width;
  double top = size.height - 150.0;
  overlay.text(Overlay::fitted(picture.caption, 24, column_width - margin, true), {left, top}, 24,
               Justify::left, true);
  top -= 40;
  if (const auto* field = std::get_if<FieldColours>(&picture.surface);
      field != nullptr && picture.has_colour_bar) {
    overlay.text(field->scale.unit, {left, top}, text_size, Justify::left);
    top = draw_colour_bar(overlay, *field, {left, top - 34}, 0.45 * size.height) - 50;
  }
  draw_legend(overlay, picture.legend, {left, top}, margin);
}

// ---- The file ----

std::string png_bytes(vtkRenderWindow& window) {
  vtkNew<vtkWindowToImageFilter> image;
  image->SetInput(&window);
  image->SetInputBufferTypeToRGB();
  image->ReadFrontBufferOff();
  image->ShouldRerenderOff(); // it has been drawn
  vtkNew<vtkPNGWriter> writer;
  writer->SetInputConnection(image->GetOutputPort());
  writer->WriteToMemoryOn();
  writer->Write();
  vtkUnsignedCharArray* const bytes = writer->GetResult();
  if (bytes == nullptr || bytes->GetNumberOfValues() == 0) {
    throw std::runtime_error("VTK draws no picture");
  }
  return {reinterpret_cast<const char*>(bytes->GetPointer(0)),
          static_cast<std::size_t>(bytes->GetNumberOfValues())};
}

vtkSmartPointer<vtkGenericOpenGLRenderWindow> window_of(const PictureSize& size) {
  auto window = vtkSmartPointer<vtkGenericOpenGLRenderWindow>::New();
  window->SetOwnContext(0);
  window->SetReadyForRendering(true);
  window->SetSupportsOpenGL(1);
  window->SetIsCurrent(true);
  window->SetOffScreenRendering(1);
  window->SetMultiSamples(4);
  window->SetDPI(dots_per_inch);
  window->SetSize(size.width, size.height);
  return window;
}

void add_part(Scene& scene, const Picture& picture) {
  const Triangulation triangulation = triangulate(scene.mesh);
  const auto points = points_of(scene.mesh, scene.projection.centre);
  const auto surface = surface_of(*points, triangulation);
  add_outline(scene, *surface);
  if (const auto* field = std::get_if<FieldColours>(&picture.surface)) {
    add_field(scene, *surface, *field);
  } else {
    add_elements(scene, *surface, triangulation, std::get<ElementColours>(picture.surface));
  }
  double thousandths = 3;
  for (const PictureLine& line : picture.lines) {
    add_picture_line(scene, *points, line, thousandths);
    thousandths += 0.2; // over the line before
  }
}

} // namespace

PixelBox part_box(const PictureSize& size) {
  return {margin + 30, 110, size.width - column_width - margin - 30, size.height - 150.0};
}

std::string png_of(const Picture& picture, const ShellMesh& mesh, const PictureView& view,
                   const PictureSize& size) {
  vtkTextRenderer::GetInstance()->SetDefaultBackend(vtkTextRenderer::FreeType);
  const PixelBox box = part_box(size);
  const auto window = window_of(size);
  vtkNew<vtkRenderer> renderer;
  renderer->SetBackground(1, 1, 1);
  window->SetNumberOfLayers(2);
  window->AddRenderer(renderer);
  vtkNew<vtkRenderer> text_renderer;
  text_renderer->SetLayer(1);
  window->AddRenderer(text_renderer);
  Scene scene{*renderer, mesh, projection_into(box, mesh, view), mesh_extent(mesh)};
  add_part(scene, picture);
  aim(scene, size);
  Overlay overlay(*renderer, *text_renderer);
  draw_titles(overlay, picture, size);
  draw_column(overlay, picture, size);
  draw_scale_bar(overlay, scene.projection, {margin + 10, 50});
  draw_axes(overlay, view, {box.right - 40, 30});
  draw_marks(overlay, scene, picture, {margin, 90, box.right + 30, box.top + 40});
  overlay.show();
  window->Render();
  return png_bytes(*window);
}

} // namespace tidemark
