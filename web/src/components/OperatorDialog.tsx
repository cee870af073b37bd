import type { ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { dialogOpen, entering, leaving, setPassphrase, setting, signIn, signOut } from "../api/operator";
import { barrier } from "../lib/pattern";
import { connection, rights } from "../store";
import { ActionButton } from "./ActionButton";
import { FailureNote } from "./FailureNote";
import { PassphraseForm } from "./PassphraseForm";
import { Icon } from "./Icon";
import buttons from "./button.module.css";
import css from "./OperatorDialog.module.css";

/** Signing in and out, and the passphrase. */
export function OperatorDialog() {
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    for (const action of [entering, leaving, setting]) action.failure.value = null;
    dialog.current?.showModal();
  }, []);
  const close = () => dialog.current?.close();
  const may = rights.value;
  const title = !may?.may_control && may?.passphrase_set ? "Sign in" : "Who may control the floor";
  return (
    <dialog ref={dialog} class={css.dialog} aria-labelledby="operator-title" onClose={() => (dialogOpen.value = false)}>
      <div class={css.head}>
        <h2 id="operator-title">{title}</h2>
        <button type="button" class={buttons.plain} aria-label="Close" onClick={close}>
          <Icon name="close" size={18} />
        </button>
      </div>
      <div class={css.body}>
        {connection.value.kind === "lost" && <p>No connection to litfloor: wait until it is back.</p>}
        {may && (may.may_control ? may.passphrase_set ? <SignedIn /> : <FirstUse close={close} /> : may.passphrase_set ? <SignIn close={close} /> : <p>{barrier(may, "open")}</p>)}
      </div>
    </dialog>
  );
}

function SignIn({ close }: { close(): void }) {
  return (
    <>
      <p>Anyone may look. Lighting the floor and every change need the operator's passphrase.</p>
      <PassphraseForm
        action={entering}
        label="Passphrase"
        autocomplete="current-password"
        button="Sign in"
        waiting="Signing in…"
        send={async (passphrase) => {
          if (await signIn(passphrase)) close();
        }}
      />
      <Small>This browser stays signed in for twelve hours, or until litfloor starts again. After a wrong passphrase the next try takes longer.</Small>
    </>
  );
}

function SignedIn() {
  return (
    <>
      <p>You are signed in: this browser may light the floor and change things.</p>
      <div>
        <ActionButton action={leaving} icon="out" waiting="Signing out…" onRun={() => void signOut()}>
          Sign out
        </ActionButton>
      </div>
      <FailureNote action={leaving} />
      <details class={css.more}>
        <summary>
          <Icon name="chevron" />
          Change the passphrase
        </summary>
        <NewPassphrase button="Change the passphrase">Everyone else is signed out by that.</NewPassphrase>
      </details>
    </>
  );
}

function FirstUse({ close }: { close(): void }) {
  return (
    <>
      <p>
        No passphrase is set. Until one is, only a browser <strong>on the machine that litfloor runs on</strong> may light the floor and
        change things; this is one. Everyone else may look.
      </p>
      <p>To control the floor from a phone, set a passphrase here and sign in with it there.</p>
      <NewPassphrase button="Set the passphrase" done={close}>
        From then on it is asked for everywhere, on this machine too. This browser is signed in by setting it.
      </NewPassphrase>
    </>
  );
}

function NewPassphrase({ button, done, children }: { button: string; done?: () => void; children: ComponentChildren }) {
  return (
    <>
      <PassphraseForm
        action={setting}
        label="New passphrase"
        hint="At least 8 characters; a few words are easy to remember and hard to guess."
        autocomplete="new-password"
        button={button}
        waiting="Setting it…"
        send={async (passphrase) => {
          if (await setPassphrase(passphrase)) done?.();
        }}
      />
      <Small>
        {children}
        {!rights.value?.encrypted && " It is sent as it is typed: on a network that strangers share, others could read it."}
      </Small>
    </>
  );
}

function Small({ children }: { children: ComponentChildren }) {
  return <p class={css.small}>{children}</p>;
}
