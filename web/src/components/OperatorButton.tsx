import { dialogOpen } from "../api/operator";
import { rights } from "../store";
import { Icon } from "./Icon";
import buttons from "./button.module.css";
import css from "./OperatorButton.module.css";

/** Says whether things may be changed from here, and opens what it takes. */
export function OperatorButton() {
  const may = rights.value;
  if (!may || may.guest) return null;
  const word = may.may_control ? (may.passphrase_set ? "Signed in" : "Control") : may.passphrase_set ? "Sign in" : "Looking only";
  return (
    <button type="button" class={`${buttons.plain} ${css.button}`} aria-haspopup="dialog" title={word} onClick={() => (dialogOpen.value = true)}>
      <Icon name={may.may_control ? "key" : "lock"} size={18} />
      <span class={css.word}>{word}</span>
    </button>
  );
}
