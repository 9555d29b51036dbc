#include "io/raw_layup.hpp"

#include "io/raw_fields.hpp"
#include "io/wording.hpp"

namespace tidemark {

namespace {

/// Which of fabric, gap and core the entry is; empty, with an error, if it is not one of them.
std::string kind_of(const TomlTable& table) {
  std::string found;
  int kinds = 0;
  std::string kind;
  for (const char* const name : {"fabric", "gap", "core"}) {
    if (has(table, name)) {
      found += (kinds++ > 0 ? " and " : "") + std::string(name);
      kind = name;
    }
  }
  if (kinds != 1) {
    add_error(*table.findings, table.line, table.key,
              "found " + (kinds == 0 ? std::string("none of fabric, gap and core") : found) +
                  ", expected one of fabric = \"name\", gap = \"0.5 mm\" and core = \"10 mm\"");
  }
  return kinds == 1 ? kind : "";
}

std::optional<RawGrooves> read_grooves(const TomlTable& core) {
  const TomlTable table =
      subtable(core, "grooves", "{ width = \"2 mm\", depth = \"2 mm\", spacing = \"20 mm\" }");
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  refuse_unknown_keys(table, {"width", "depth", "spacing", "crossed"});
  for (const char* const name : {"width", "depth", "spacing"}) {
    require(table, name, "a length such as \"2 mm\"");
  }
  return RawGrooves{table.key,
                    table.line,
                    read_quantity(table, "width", Dimension::length),
                    read_quantity(table, "depth", Dimension::length),
                    read_quantity(table, "spacing", Dimension::length),
                    read_boolean(table, "crossed")};
}

void read_core(const TomlTable& table, RawPly& ply) {
  refuse_unknown_keys(table,
                      {"core", "angle", "permeability", "porosity", "grooves", "density", "price"});
  if (has(table, "grooves") && (has(table, "permeability") || has(table, "porosity"))) {
    add_error(*table.findings, line_of(table, "grooves"), key_of(table, "grooves"),
              "found grooves beside permeability or porosity, expected either grooves, or "
              "permeability and porosity of the whole core");
  } else if (has(table, "permeability") != has(table, "porosity")) {
    const bool has_one = has(table, "permeability");
    require(table, has_one ? "porosity" : "permeability",
            has_one ? "the share of the core that resin fills such as 0.05"
                    : "the permeability of the core such as \"1e-9 m2\"");
  }
  ply.core = read_quantity(table, "core", Dimension::length);
  ply.angle = read_quantity(table, "angle", Dimension::angle);
  ply.permeability = read_quantities(table, "permeability", Dimension::permeability, 2);
  ply.porosity = read_fraction(table, "porosity");
  ply.grooves = read_grooves(table);
  ply.density = read_quantity(table, "density", Dimension::density);
  ply.price = read_price(table, "price", {Dimension::area, Dimension::volume});
}

RawPly read_ply(const TomlTable& table) {
  RawPly ply;
  ply.key = table.key;
  ply.line = table.line;
  const std::size_t errors_before = table.findings->errors.size();
  const std::string kind = kind_of(table);
  if (kind == "fabric") {
    refuse_unknown_keys(table, {"fabric", "count", "angle"});
    ply.fabric = read_text(table, "fabric", "the name of a fabric");
    ply.count = read_count(table, "count", 1000);
    ply.angle = read_quantity(table, "angle", Dimension::angle);
  } else if (kind == "gap") {
    refuse_unknown_keys(table, {"gap"});
    ply.gap = read_quantity(table, "gap", Dimension::length);
  } else if (kind == "core") {
    read_core(table, ply);
  }
  ply.is_readable = table.findings->errors.size() == errors_before;
  return ply;
}

} // namespace

RawLayup read_layup(const TomlTable& region) {
  RawLayup layup;
  layup.line = line_of(region, "layup");
  const char* const example = "plies such as [{ fabric = \"mat\", count = 2, angle = \"0 deg\" }]";
  for (const TomlTable& table : inner_tables(region, "layup", OneTable::refused, example)) {
    layup.plies.push_back(read_ply(table));
  }
  if (!is_array_given(region, "fibre_volume_fraction")) {
    layup.fibre_volume_fraction = read_fraction(region, "fibre_volume_fraction");
  }
  return layup;
}

} // namespace tidemark
