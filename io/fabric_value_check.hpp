// Whether the data of a fabric make sense, and the fabric they make.
#pragma once

#include "io/raw_fabric.hpp"
#include "solver/layup.hpp"

#include <string>
#include <vector>

namespace tidemark {

/// Reads the fabrics of a document and checks their values; those without an error are sound.
std::vector<RawFabric> checked_fabrics(const TomlTable& document);

/// Precondition: the fabric is sound.
Fabric make_fabric(const RawFabric& raw);

/// Precondition: the fabric is sound and has a compaction law.
FractionRange compaction_range(const RawCompactionLaw& law);

} // namespace tidemark
