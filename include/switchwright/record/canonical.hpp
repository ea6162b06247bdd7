// The canonical bytes of a JSON document, as RFC 8785 (JSON Canonicalization Scheme) defines them: no white
// space, keys sorted, shortest numbers that read back as the same double. Hashes are taken over these bytes,
// so that any other program that follows the RFC gets the same hash.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

namespace switchwright {

/// @throws std::domain_error for a number that JSON cannot hold (infinite, not a number).
std::string canonical_bytes(const nlohmann::json& document);

/// A double as RFC 8785 3.2.2.3 writes it ("1e-7", "100", "0.1").
std::string canonical_number(double value);

}  // namespace switchwright
