import { connection } from "../store";
import { Empty } from "./Empty";

/** Before the first layout and state have arrived. */
export function Loading() {
  return connection.value.kind === "lost" ? (
    <Empty icon="broken" title="Nothing to show yet">
      The daemon does not answer. This page keeps trying; check that litfloor is running and that this device is on the
      same network.
    </Empty>
  ) : (
    <Empty icon="wait" title="Loading the floor" busy>
      Waiting for the daemon to send its layout.
    </Empty>
  );
}
