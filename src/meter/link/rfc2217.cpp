#include "meter/link/rfc2217.hpp"

#include <initializer_list>

namespace switchwright {

namespace {

// RFC 854, RFC 856 (binary), RFC 858 (suppress go-ahead), RFC 2217 (com port control).
constexpr unsigned char iac = 255, dont_verb = 254, do_verb = 253, wont_verb = 252, will_verb = 251, sb = 250, se = 240;
constexpr unsigned char binary = 0, suppress_go_ahead = 3, com_port = 44;
constexpr unsigned char set_baudrate = 1, set_datasize = 2, set_parity = 3, set_stopsize = 4, set_control = 5,
                        purge_data = 12, server_offset = 100;
constexpr unsigned char no_flow_control = 1, dtr_on = 8, dtr_off = 9, rts_on = 11, rts_off = 12, purge_received = 1;
constexpr std::size_t longest_sub = 64;

std::string bytes_of(std::initializer_list<unsigned char> values) {
  std::string text;
  for (const unsigned char value : values) text += static_cast<char>(value);
  return text;
}

std::string request(unsigned char command, std::initializer_list<unsigned char> values) {
  return bytes_of({iac, sb, com_port, command}) + ComPortClient::encode(bytes_of(values)) + bytes_of({iac, se});
}

bool wanted(unsigned char option) { return option == binary || option == suppress_go_ahead || option == com_port; }

}  // namespace

ComPortClient::ComPortClient(const LinkSettings& settings) : settings_(settings) {}

std::string ComPortClient::encode(std::string_view bytes) {
  std::string text;
  for (const char c : bytes) text.append(static_cast<unsigned char>(c) == iac ? 2 : 1, c);
  return text;
}

std::string ComPortClient::settings_requests() const {
  const auto baud = static_cast<unsigned>(settings_.baud);
  const auto byte = [baud](int shift) { return static_cast<unsigned char>(baud >> shift & 0xFF); };
  const unsigned char parity = settings_.parity == Parity::none ? 1 : settings_.parity == Parity::odd ? 2 : 3;
  std::string text = request(set_baudrate, {byte(24), byte(16), byte(8), byte(0)}) +
                     request(set_datasize, {static_cast<unsigned char>(settings_.data_bits)}) +
                     request(set_parity, {parity}) +
                     request(set_stopsize, {static_cast<unsigned char>(settings_.stop_bits)}) +
                     request(set_control, {no_flow_control});
  if (settings_.dtr) text += request(set_control, {*settings_.dtr ? dtr_on : dtr_off});
  if (settings_.rts) text += request(set_control, {*settings_.rts ? rts_on : rts_off});
  return text + request(purge_data, {purge_received});
}

std::string ComPortClient::greeting() {
  will_ = {com_port, binary, suppress_go_ahead};
  do_ = {binary, suppress_go_ahead};
  return bytes_of({iac, will_verb, com_port, iac, will_verb, binary, iac, do_verb, binary, iac, will_verb,
                   suppress_go_ahead, iac, do_verb, suppress_go_ahead}) +
         settings_requests();
}

std::string ComPortClient::receive(std::string_view bytes, std::string& reply) {
  std::string data;
  for (const char c : bytes) {
    const auto byte = static_cast<unsigned char>(c);
    switch (state_) {
      case State::data:
        if (byte == iac)
          state_ = State::command;
        else
          data += c;
        break;
      case State::command:
        state_ = State::data;
        if (byte == iac) {
          data += c;
        } else if (byte == sb) {
          sub_.clear();
          state_ = State::sub;
        } else if (byte >= will_verb && byte <= dont_verb) {
          verb_ = byte;
          state_ = State::option;
        }  // anything else is a command of one byte that says nothing to us
        break;
      case State::option:
        negotiate(verb_, byte, reply);
        state_ = State::data;
        break;
      case State::sub:
        if (byte == iac)
          state_ = State::sub_command;
        else if (sub_.size() < longest_sub)
          sub_ += c;
        break;
      case State::sub_command:
        if (byte == iac && sub_.size() < longest_sub) sub_ += c;
        state_ = byte == iac ? State::sub : State::data;
        if (byte == se) subnegotiation();
        break;
    }
  }
  return data;
}

/// A verb that only agrees to what was said before is not answered: two sides that answer everything never
/// stop.
void ComPortClient::negotiate(unsigned char verb, unsigned char option, std::string& reply) {
  switch (verb) {
    case do_verb:
      if (will_.count(option) > 0) {
        // A server that answers only now may have dropped the settings that came before its answer.
        if (option == com_port && acknowledged_ == 0) reply += settings_requests();
      } else if (wanted(option)) {
        will_.insert(option);
        reply += bytes_of({iac, will_verb, option});
      } else if (wont_.insert(option).second) {
        reply += bytes_of({iac, wont_verb, option});
      }
      break;
    case will_verb:
      if (do_.count(option) > 0) break;
      if (wanted(option)) {
        do_.insert(option);
        reply += bytes_of({iac, do_verb, option});
      } else if (dont_.insert(option).second) {
        reply += bytes_of({iac, dont_verb, option});
      }
      break;
    case dont_verb: will_.erase(option); break;
    case wont_verb: do_.erase(option); break;
    default: break;
  }
}

void ComPortClient::subnegotiation() {
  if (sub_.size() < 2 || static_cast<unsigned char>(sub_[0]) != com_port) return;
  const auto command = static_cast<unsigned char>(sub_[1]);
  if (command > server_offset + set_control || command <= server_offset) return;  // a notice of line or modem state
  ++acknowledged_;
  if (command != server_offset + set_baudrate || sub_.size() < 6) return;
  unsigned baud = 0;
  for (std::size_t i = 2; i < 6; ++i) baud = baud << 8 | static_cast<unsigned char>(sub_[i]);
  refused_baud_ = static_cast<int>(baud) == settings_.baud ? 0 : static_cast<int>(baud);
}

}  // namespace switchwright
