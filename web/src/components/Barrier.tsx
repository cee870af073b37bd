import { dialogOpen } from "../api/operator";
import { barrier } from "../lib/pattern";
import { connection, guest, rights } from "../store";
import { Icon } from "./Icon";
import css from "./Barrier.module.css";
import buttons from "./button.module.css";

/** Why nothing can be changed from here; null if it can. */
export const barred = () => barrier(rights.value, connection.value.kind);

/** Says why nothing can be changed from here, with the way to it where there is one. */
export function Barrier({ id }: { id: string }) {
  const why = barred();
  // Guests have no control that could be barred.
  if (why === null || guest.value) return null;
  const signIn = rights.value?.passphrase_set === true && !rights.value.may_control;
  return (
    <div class={css.barrier}>
      <Icon name="lock" size={18} />
      <p id={id} class={css.why}>
        {why}
      </p>
      {signIn && (
        <button type="button" class={buttons.solid} onClick={() => (dialogOpen.value = true)}>
          Sign in
        </button>
      )}
    </div>
  );
}
