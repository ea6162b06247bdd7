// The published JSON Schema of an exported record.
#pragma once

namespace switchwright {

const char* record_schema();

}  // namespace switchwright
