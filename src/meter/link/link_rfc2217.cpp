// A meter on a serial server that speaks RFC 2217: a TCP connection with the server's talk taken out.
#include <fmt/format.h>

#include "meter/link/rfc2217.hpp"
#include "meter/link/tcp_endpoint.hpp"

namespace switchwright {

namespace {

class SerialServerEndpoint final : public TcpEndpoint {
 public:
  SerialServerEndpoint(boost::asio::io_context& context, const std::string& port, const LinkSettings& settings)
      : TcpEndpoint(context, port), settings_(settings), client_(settings) {}

  std::string greeting() override {
    client_ = ComPortClient{settings_};
    complained_ = false;
    return client_.greeting();
  }
  std::string receive(std::string_view bytes, std::string& reply) override { return client_.receive(bytes, reply); }
  std::string encode(std::string_view bytes) override { return ComPortClient::encode(bytes); }
  std::string complaint() override {
    if (complained_ || client_.refused_baud() == 0) return {};
    complained_ = true;
    return fmt::format(
        "the serial server at {} runs its port at {} baud and not at {}: check the server's own settings", name(),
        client_.refused_baud(), settings_.baud);
  }
  std::string silence_advice() const override {
    return "check that the meter is on, its data button is pressed and its cable is in the serial server";
  }

 private:
  LinkSettings settings_;
  ComPortClient client_;
  bool complained_ = false;
};

}  // namespace

std::unique_ptr<Endpoint> make_serial_server_endpoint(boost::asio::io_context& context, const std::string& port,
                                                      const LinkSettings& settings) {
  return std::make_unique<SerialServerEndpoint>(context, port, settings);
}

}  // namespace switchwright
