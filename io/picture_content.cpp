#include "io/picture_content.hpp"

#include "io/mould_text.hpp"
#include "io/picture_font.hpp"
#include "io/port_place.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>
#include <utility>

namespace tidemark {

namespace {

constexpr std::size_t longest_list = 5; // places marked of each kind, as many as are read aloud
constexpr std::size_t most_places_with_coordinates = 6; // there is no room for more
constexpr std::size_t most_regions = 10;
constexpr std::size_t most_channels = 8;
constexpr Rgb runner_colour = {0x00, 0x72, 0xb2};     // blue; lines that are gates are black
constexpr Rgb race_track_colour = {0xd5, 0x5e, 0x00}; // vermillion
constexpr double channel_width = 6;                   // [pixels]
constexpr double port_width = 8;

std::string verdict_sentence(const FillResult& result) {
  if (result.verdict == Verdict::filled) {
    return std::string("The part fills") +
           (opens_mould(result) ? ", but the mould is pushed open" : "") + ". It takes about " +
           as_minutes(result.fill_time.value_or(result.end_time)) + ".";
  }
  if (result.reason == ShortReason::interrupted) {
    return "Interrupted after " + as_minutes(result.end_time) + ", with " +
           as_percent(result.filled_fraction) + " filled.";
  }
  return "The part does not fill: " + std::string(reason_word(result.reason)) +
         ". At the end, after " + as_minutes(result.end_time) + ", " +
         as_percent(result.filled_fraction) + " of it is filled.";
}

/// 1 where the resin has been, elsewhere what it fills, under one half: the border of the drawn
/// field is then between the nodes, nearer to those that are nearly full.
PerNode<double> coverage_of(const FillResult& result) {
  PerNode<double> coverage(result.fill_time_field.size(), 1);
  for (const NodeId node : coverage.ids()) {
    if (std::isnan(result.fill_time_field[node])) {
      coverage[node] = std::min(result.fill_fraction[node], 0.49);
    }
  }
  return coverage;
}

bool is_dry_somewhere(const FillResult& result) {
  return std::ranges::any_of(result.fill_time_field, [](double time) { return std::isnan(time); });
}

/// Fill times, carried on flat over the elements in which the front stands at the end, so that no
/// line of equal time comes to lie there that is none.
PerNode<double> times_carried_on(const ShellMesh& mesh, const PerNode<double>& fill_time) {
  PerNode<double> latest_beside(fill_time.size(), 0);
  for (const Element& element : mesh.elements) {
    double latest = 0;
    for (const NodeId node : element.corners()) {
      latest = std::isnan(fill_time[node]) ? latest : std::max(latest, fill_time[node]);
    }
    for (const NodeId node : element.corners()) {
      latest_beside[node] = std::max(latest_beside[node], latest);
    }
  }
  PerNode<double> times = fill_time;
  for (const NodeId node : times.ids()) {
    times[node] = std::isnan(times[node]) ? latest_beside[node] : times[node];
  }
  return times;
}

FieldColours time_colours(const FillProblem& problem, const FillResult& result, double paleness) {
  double end = 0;
  for (const double time : result.fill_time_field) {
    end = std::isnan(time) ? end : std::max(end, time);
  }
  return {times_carried_on(problem.mesh, result.fill_time_field), coverage_of(result),
          time_scale(end), paleness};
}

FieldColours pressure_colours(const FillResult& result) {
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (const NodeId node : result.pressure.ids()) {
    if (!std::isnan(result.fill_time_field[node])) {
      low = std::min(low, result.pressure[node]);
      high = std::max(high, result.pressure[node]);
    }
  }
  const bool is_wet = low <= high;
  return {result.pressure, coverage_of(result),
          pressure_scale(is_wet ? low : 0, is_wet ? high : 0)};
}

/// Edges of the mesh between nodes of a port that is a line or a surface.
std::vector<std::array<NodeId, 2>> edges_among(const ShellMesh& mesh,
                                               const std::vector<NodeId>& nodes) {
  PerNode<char> is_in(mesh.positions.size(), 0);
  for (const NodeId node : nodes) {
    is_in[node] = 1;
  }
  std::vector<std::array<NodeId, 2>> edges;
  for (const Element& element : mesh.elements) {
    const auto corners = element.corners();
    for (std::size_t k = 0; k < corners.size(); ++k) {
      const NodeId from = corners[k];
      const NodeId to = corners[(k + 1) % corners.size()];
      if (is_in[from] != 0 && is_in[to] != 0) {
        edges.push_back({std::min(from, to), std::max(from, to)});
      }
    }
  }
  std::ranges::sort(edges);
  edges.erase(std::unique(edges.begin(), edges.end()), edges.end());
  return edges;
}

/// The names, or where no font has their letters what it is and its number in the case, or the next
/// that none of them has: a blank label would tell nothing.
template <class Thing>
std::vector<std::string> shown_names(const std::vector<Thing>& things, const char* kind) {
  std::vector<std::string> names;
  std::ranges::transform(things, std::back_inserter(names), &Thing::name);
  for (std::size_t i = 0; i < things.size(); ++i) {
    if (can_be_drawn(names[i])) {
      continue;
    }
    std::string numbered;
    for (std::size_t number = i + 1;
         numbered.empty() || std::ranges::find(names, numbered) != names.end(); ++number) {
      numbered = kind + (" " + std::to_string(number));
    }
    names[i] = numbered;
  }
  return names;
}

/// The title, or the case file's name, or at the least that it is a part.
std::string shown_title(const Case& input) {
  const std::string title = printable(input.title);
  const std::string file = input.file.stem().string();
  return can_be_drawn(title) ? title : can_be_drawn(file) ? file : "part";
}

std::string shown_region(const FillProblem& problem, RegionId region) {
  return shown_names(problem.regions, "region")[region.position()];
}

std::vector<PictureMark> port_marks(const FillProblem& problem, bool with_names) {
  std::vector<PictureMark> marks;
  const auto add = [&](const Vector3& place, MarkKind kind, const std::string& label) {
    marks.push_back({place, kind, "", with_names ? label : ""});
  };
  const std::vector<std::string> vents = shown_names(problem.vents, "vent");
  for (std::size_t v = 0; v < vents.size(); ++v) {
    add(middle_of(problem.mesh, problem.vents[v].nodes), MarkKind::vent, vents[v]);
  }
  const std::vector<std::string> gates = shown_names(problem.gates, "gate");
  for (std::size_t g = 0; g < gates.size(); ++g) {
    add(place_of_gate(problem.mesh, problem.gates[g]), MarkKind::gate, gates[g]);
  }
  return marks;
}

void add_port_rows(Picture& picture, const FillProblem& problem) {
  picture.legend.push_back({MarkKind::gate, problem.gates.size() == 1 ? "gate" : "gates"});
  if (!problem.vents.empty()) {
    picture.legend.push_back({MarkKind::vent, problem.vents.size() == 1 ? "vent" : "vents"});
  }
}

void add_dry_row(Picture& picture, const FillResult& result) {
  if (is_dry_somewhere(result)) {
    picture.legend.push_back({no_value_colour, "resin never came"});
  }
}

Picture picture_of(const Case& input, const FillResult& result, const char* file_name,
                   const char* caption) {
  Picture picture;
  picture.file_name = file_name;
  picture.title = shown_title(input);
  picture.verdict = verdict_sentence(result);
  picture.caption = caption;
  return picture;
}

Picture time_picture(const Case& input, const FillResult& result) {
  Picture picture = picture_of(input, result, "fill-time.png", "Fill time");
  picture.surface = time_colours(input.problem, result, 0);
  picture.has_colour_bar = true;
  picture.marks = port_marks(input.problem, false);
  add_port_rows(picture, input.problem);
  add_dry_row(picture, result);
  return picture;
}

Picture pressure_picture(const Case& input, const FillResult& result) {
  Picture picture = picture_of(input, result, "pressure.png", "Pressure at the end (gauge)");
  picture.surface = pressure_colours(result);
  picture.has_colour_bar = true;
  picture.marks = port_marks(input.problem, false);
  add_port_rows(picture, input.problem);
  add_dry_row(picture, result);
  return picture;
}

/// "x 812, y 310, z 44.0 mm"; each with its unit where one is in metres.
std::string place_row(const Vector3& place) {
  const auto has_own_unit = [](double metres) { return !as_millimetres(metres).ends_with(" mm"); };
  const bool with_units =
      has_own_unit(place.x()) || has_own_unit(place.y()) || has_own_unit(place.z());
  const auto number = [&](double metres) {
    const std::string text = as_millimetres(metres);
    return with_units ? text : text.substr(0, text.find(' '));
  };
  return "x " + number(place.x()) + ", y " + number(place.y()) + ", z " + as_millimetres(place.z());
}

std::size_t listed(std::size_t count) {
  return std::min(count, longest_list);
}

bool has_room_for_coordinates(const FillResult& result) {
  return listed(result.last_filled.size()) + listed(result.dry_spots.size()) +
             listed(result.suspect_zones.size()) <=
         most_places_with_coordinates;
}

/// A mark with its sign, and in the legend what is there and, where there is room, where.
void add_place(Picture& picture, PictureMark mark, const std::string& what, bool with_coordinates) {
  picture.legend.push_back({mark.kind, what, mark.sign});
  if (with_coordinates) {
    picture.legend.push_back({std::monostate{}, place_row(mark.place), "", true});
  }
  picture.marks.push_back(std::move(mark));
}

void add_text(Picture& picture, const std::string& text) {
  picture.legend.push_back({std::monostate{}, text});
}

void add_rest_row(Picture& picture, std::size_t count) {
  if (count > longest_list) {
    add_text(picture, "and " + counted(count - longest_list, "more place", "more places"));
  }
}

void add_last_places(Picture& picture, const Case& input, const FillResult& result) {
  if (result.filled_fraction == 0) {
    add_text(picture, "No resin came.");
  }
  if (!result.last_filled.empty()) {
    add_text(picture, result.verdict == Verdict::filled ? "Last to fill:"
                      : result.dry_spots.empty()        ? "The resin came last to:"
                                                        : "Last but round what is dry:");
  }
  for (std::size_t i = 0; i < listed(result.last_filled.size()); ++i) {
    const LastFilled& place = result.last_filled[i];
    add_place(
        picture,
        {input.problem.mesh.positions[place.node], MarkKind::last_place, std::to_string(i + 1)},
        as_minutes(place.time) + ", " + shown_region(input.problem, place.region),
        has_room_for_coordinates(result));
  }
  add_rest_row(picture, result.last_filled.size());
}

/// What is left dry, then where air was shut in and has closed up.
void add_air(Picture& picture, const FillResult& result) {
  const bool with_coordinates = has_room_for_coordinates(result);
  const std::size_t dry = listed(result.dry_spots.size());
  if (dry > 0) {
    add_text(picture, "Left dry:");
  }
  for (std::size_t i = 0; i < dry; ++i) {
    const DrySpot& spot = result.dry_spots[i];
    const std::string air = spot.is_sealed ? " of air, " + as_bar(spot.air_pressure) : "";
    add_place(
        picture,
        {spot.position, spot.is_sealed ? MarkKind::shut_in_air : MarkKind::dry, letter_name(i)},
        as_litres(spot.volume) + air, with_coordinates);
  }
  add_rest_row(picture, result.dry_spots.size());
  const std::size_t closed = listed(result.suspect_zones.size());
  if (closed > 0) {
    add_text(picture, "Air closed up, look here:");
  }
  for (std::size_t i = 0; i < closed; ++i) {
    const SuspectZone& zone = result.suspect_zones[i];
    add_place(picture,
              {zone.position, MarkKind::closed_air, letter_name(result.dry_spots.size() + i)},
              as_litres(zone.volume) + " at " + as_bar(zone.air_pressure), with_coordinates);
  }
  add_rest_row(picture, result.suspect_zones.size());
}

void add_symbol_rows(Picture& picture, const FillResult& result) {
  const auto is_there = [&](MarkKind kind) {
    return std::ranges::any_of(picture.marks,
                               [&](const PictureMark& mark) { return mark.kind == kind; });
  };
  const std::array<std::pair<MarkKind, const char*>, 3> rows = {
      {{MarkKind::shut_in_air, "air shut in"},
       {MarkKind::closed_air, "air closed up"},
       {MarkKind::dry, "dry, air not shut in"}}};
  for (const auto& [kind, text] : rows) {
    if (is_there(kind)) {
      picture.legend.push_back({kind, text});
    }
  }
  add_dry_row(picture, result);
}

/// "a line every 30 s"
void add_line_row(Picture& picture, const ValueScale& scale) {
  if (scale.ticks.size() > 2) { // else there is none
    add_text(picture, "a line every " + as_minutes(scale.ticks[1].value));
  }
}

std::string air_sentence(const FillProblem& problem, const FillResult& result) {
  if (!problem.sealed_air) {
    return "Air shut in is not computed.";
  }
  const bool is_none =
      result.suspect_zones.empty() && std::ranges::none_of(result.dry_spots, &DrySpot::is_sealed);
  return is_none ? "No air is shut in." : "";
}

Picture last_places_picture(const Case& input, const FillResult& result) {
  Picture picture = picture_of(input, result, "last-places.png", "Last places and air shut in");
  const FieldColours colours = time_colours(input.problem, result, 0.6);
  picture.surface = colours;
  picture.marks = port_marks(input.problem, false);
  add_last_places(picture, input, result);
  add_air(picture, result);
  if (const std::string air = air_sentence(input.problem, result); !air.empty()) {
    add_text(picture, air);
  }
  add_port_rows(picture, input.problem);
  add_symbol_rows(picture, result);
  add_line_row(picture, colours.scale);
  return picture;
}

bool is_race_track(const Case& input, const std::string& name) {
  return std::ranges::any_of(input.values, [&](const UsedValue& value) {
    return value.key.starts_with("race_track[" + name + "]");
  });
}

void add_channels(Picture& picture, const Case& input) {
  const std::vector<Channel>& channels = input.problem.channels;
  const std::vector<std::string> names = shown_names(channels, "line");
  for (std::size_t c = 0; c < channels.size(); ++c) {
    const bool is_gap = is_race_track(input, channels[c].name);
    const Rgb colour = is_gap ? race_track_colour : runner_colour;
    picture.lines.push_back({channels[c].segments, colour, channel_width});
    if (c < most_channels) {
      picture.legend.push_back({PictureLine{{}, colour, channel_width},
                                (is_gap ? "race track " : "runner ") + names[c]});
    }
  }
  if (channels.size() > most_channels) {
    add_text(picture, "and " + counted(channels.size() - most_channels, "more line", "more lines"));
  }
}

/// Ports that are lines or surfaces of the mesh.
void add_port_lines(Picture& picture, const FillProblem& problem) {
  for (const Vent& vent : problem.vents) {
    const auto edges = edges_among(problem.mesh, vent.nodes);
    picture.lines.push_back({edges, {0, 0, 0}, port_width});
    picture.lines.push_back({edges, {255, 255, 255}, port_width - 4});
  }
  for (const Gate& gate : problem.gates) {
    if (!gate.radius) {
      picture.lines.push_back({edges_among(problem.mesh, gate.nodes), {0, 0, 0}, port_width});
    }
  }
}

Picture layout_picture(const Case& input, const FillResult& result) {
  const FillProblem& problem = input.problem;
  Picture picture = picture_of(input, result, "layout.png", "Regions, gates and vents");
  ElementColours colours(problem.mesh.elements.size());
  for (const ElementId element : colours.ids()) {
    colours[element] = lightened(distinct_colour(problem.element_region[element].position()), 0.3);
  }
  picture.surface = std::move(colours);
  const std::vector<std::string> regions = shown_names(problem.regions, "region");
  for (std::size_t r = 0; r < std::min(regions.size(), most_regions); ++r) {
    picture.legend.push_back({lightened(distinct_colour(r), 0.3), regions[r]});
  }
  if (problem.regions.size() > most_regions) {
    add_text(picture, "and " + counted(problem.regions.size() - most_regions, "more region",
                                       "more regions"));
  }
  add_port_lines(picture, problem);
  add_channels(picture, input);
  picture.marks = port_marks(problem, true);
  add_port_rows(picture, problem);
  return picture;
}

} // namespace

std::vector<Picture> pictures_of(const Case& input, const FillResult& result) {
  return {time_picture(input, result), pressure_picture(input, result),
          last_places_picture(input, result), layout_picture(input, result)};
}

std::string undrawable_names(const Case& input) {
  std::string missing;
  std::vector<std::string> names;
  const auto add = [&](const std::string& name, const std::string& shown) {
    const std::string text = quoted_text(name) + " is " + quoted_text(shown);
    if (name != shown && std::ranges::find(names, text) == names.end()) {
      missing += name;
      names.push_back(text);
    }
  };
  const FillProblem& problem = input.problem;
  add(printable(input.title), shown_title(input));
  const auto add_all = [&](const auto& things, const char* kind) {
    const std::vector<std::string> shown = shown_names(things, kind);
    for (std::size_t i = 0; i < shown.size(); ++i) {
      add(things[i].name, shown[i]);
    }
  };
  add_all(problem.regions, "region");
  add_all(problem.gates, "gate");
  add_all(problem.vents, "vent");
  add_all(problem.channels, "line");
  return names.empty() ? "" : missing_signs(missing) + "; there " + list_of(names);
}

} // namespace tidemark
