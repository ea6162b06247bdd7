// Where lots stand in the store. The rows say where to look; what is shown of a lot comes from its chain.
#include "record/store_impl.hpp"

namespace switchwright {

std::vector<std::string> Store::lots() const {
  impl_->fetch_all("lot", "");
  Statement select(impl_->database, "SELECT id FROM record WHERE kind = 'lot' ORDER BY started, id");
  std::vector<std::string> ids;
  while (select.step()) ids.push_back(select.text(0));
  return ids;
}

std::vector<std::string> Store::traces_of(const std::string& serial) const {
  std::vector<std::string> ids;
  if (serial.empty()) return ids;
  impl_->fetch_all("trace", serial);
  Statement select(impl_->database, "SELECT id FROM record WHERE kind = 'trace' AND serial = ? ORDER BY started, id");
  select.bind(1, serial);
  while (select.step()) ids.push_back(select.text(0));
  return ids;
}

std::vector<Store::LotPlace> Store::lots_with(const std::string& serial) const {
  std::vector<LotPlace> places;
  if (serial.empty()) return places;
  impl_->fetch_all("lot", "");
  Statement select(
      impl_->database,
      "SELECT record_id, place, unit_record FROM lot_unit WHERE serial = ? AND what = 'begun' ORDER BY at");
  select.bind(1, serial);
  while (select.step()) places.push_back({select.text(0), static_cast<int>(select.integer(1)), select.text(2)});
  return places;
}

}  // namespace switchwright
