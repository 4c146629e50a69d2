;;; keyon-mode.el --- Circuits written as text -*- lexical-binding: t; -*-

;; Version: 0.1.0
;; Package-Requires: ((emacs "28.1"))
;; Keywords: languages, tools

;;; Commentary:

;; Colours, indentation, and the language server by way of eglot (`M-x eglot'), with the commands
;; `keyon-table', `keyon-hold', `keyon-explain' and `keyon-draw'.

;;; Code:

(require 'json)

(defgroup keyon nil "Circuits written as text." :group 'languages)

(defcustom keyon-command '("keyon" "lsp")
  "The language server: the program and its arguments."
  :type '(repeat string))

(defvar keyon-mode-syntax-table
  (let ((table (make-syntax-table)))
    (modify-syntax-entry ?# "<" table)
    (modify-syntax-entry ?\n ">" table)
    (modify-syntax-entry ?\" "\"" table)
    (modify-syntax-entry ?_ "w" table)
    (modify-syntax-entry ?. "_" table)
    table))

(defconst keyon-font-lock-keywords
  (let ((items '("circuit" "use" "view" "supply" "ground" "splice" "connector" "wire" "fuse" "breaker" "link" "device"
                 "part" "module" "scenario" "expect" "exercise" "readings" "switch" "control" "variant" "about"
                 "elsewhere" "gang" "unused" "allow" "pins" "positions" "contact" "changeover" "coil" "winding" "motor"
                 "resistor" "lamp" "heater" "diode" "track" "transducer" "thermistor" "variable" "grade" "fault"
                 "symptom" "probes" "ask"))
        (roles '("feed" "drives" "switches" "reference" "return" "senses" "bus" "half" "digital" "switched"))
        (states '("operates" "weak" "rests" "holds" "chatters" "fed" "grounded" "referenced" "between" "clash" "blown")))
    `(("^\\s-*##\\(?:[^#\n].*\\)?$" 0 font-lock-doc-face t)
      (,(concat "^\\s-*" (regexp-opt items 'symbols)) 1 font-lock-keyword-face)
      (,(regexp-opt roles 'symbols) . font-lock-type-face)
      (,(regexp-opt states 'symbols) . font-lock-constant-face)
      ("\\_<\\(?:BK\\|BN\\|RD\\|OG\\|YE\\|GN\\|BU\\|VT\\|GY\\|WH\\|PK\\|GD\\|TQ\\|SR\\)\\(?:/[A-Z][A-Z]\\)?\\_>" . font-lock-string-face)
      ("->\\|\\.\\.\\|\\+-" . font-lock-builtin-face)
      ("\\_<[0-9]+\\(?:\\.[0-9]+\\)?" . font-lock-constant-face)))
  "What is coloured by the text alone.")

(defun keyon-indent-line ()
  "Indent a line by its depth of braces."
  (interactive)
  (let ((depth (save-excursion (beginning-of-line)
                               (skip-chars-forward " \t")
                               (let ((open (car (syntax-ppss))))
                                 (if (eq (char-after) ?}) (1- open) open)))))
    (if (<= (current-column) (current-indentation))
        (indent-line-to (* 2 (max 0 depth)))
      (save-excursion (indent-line-to (* 2 (max 0 depth)))))))

;;;###autoload
(define-derived-mode keyon-mode prog-mode "Keyon"
  "Circuits written as text."
  (setq-local comment-start "# ")
  (setq-local comment-start-skip "#+\\s-*")
  (setq-local indent-line-function #'keyon-indent-line)
  (setq-local indent-tabs-mode nil)
  (setq-local tab-width 2)
  (setq-local font-lock-defaults '(keyon-font-lock-keywords)))

;;;###autoload
(add-to-list 'auto-mode-alist '("\\.keyon\\'" . keyon-mode))

(with-eval-after-load 'eglot
  (add-to-list 'eglot-server-programs (cons 'keyon-mode (lambda (&rest _) keyon-command))))

(declare-function eglot-current-server "eglot")
(declare-function eglot--TextDocumentIdentifier "eglot")
(declare-function jsonrpc-request "jsonrpc")

(defun keyon--ask (method &rest params)
  "Ask the server of this buffer METHOD with PARAMS and the buffer's address."
  (let ((server (and (fboundp 'eglot-current-server) (eglot-current-server))))
    (unless server (user-error "No server here: M-x eglot starts it"))
    (jsonrpc-request server method (append (list :uri (plist-get (eglot--TextDocumentIdentifier) :uri)) params))))

(defun keyon--show (name text)
  "Show TEXT in a buffer called NAME."
  (with-current-buffer (get-buffer-create name)
    (let ((inhibit-read-only t)) (erase-buffer) (insert text))
    (special-mode)
    (display-buffer (current-buffer))))

(defun keyon-table (name)
  "Show the truth table of NAME, of everything without one."
  (interactive (list (read-string "Table of (empty: everything): " (thing-at-point 'symbol t))))
  (let ((answer (plist-get (keyon--ask :keyon/table :name (if (string-empty-p name) nil name)) :markdown)))
    (if answer (keyon--show "*keyon table*" answer) (user-error "%s has no truth table" name))))

(defun keyon--scenarios ()
  "The scenarios of this buffer, by its text: asking the server for them would let go of the one that is held."
  (save-excursion
    (goto-char (point-min))
    (let (names)
      (while (re-search-forward "^[ \t]*scenario[ \t]+\\(\\sw+\\)" nil t) (push (match-string-no-properties 1) names))
      (nreverse names))))

(defun keyon-hold (scenario)
  "Hold SCENARIO: what hover speaks of.  Empty goes back to the file's own."
  (interactive (list (completing-read "Hold: " (keyon--scenarios))))
  (let ((held (plist-get (keyon--ask :keyon/hold :scenario (if (string-empty-p scenario) nil scenario)) :scenario)))
    (message "Keyon shows %s" (or held "the state at rest"))))

(defun keyon-explain (rule)
  "Show what RULE is about."
  (interactive "sRule: ")
  (let ((text (keyon--ask :keyon/explain :rule rule)))
    (if text (keyon--show "*keyon rule*" text) (user-error "There is no rule %s" rule))))

(defun keyon-draw (&optional view)
  "Show the diagram as VIEW: state, plain or colours."
  (interactive (list (completing-read "View: " '("state" "plain" "colours") nil t nil nil "state")))
  (let ((svg (plist-get (keyon--ask :keyon/draw :view (or view "state")) :svg)))
    (with-current-buffer (get-buffer-create "*keyon diagram*")
      (let ((inhibit-read-only t))
        (erase-buffer)
        (if (and (display-graphic-p) (image-type-available-p 'svg))
            (insert-image (create-image svg 'svg t))
          (insert svg)))
      (special-mode)
      (display-buffer (current-buffer)))))

(provide 'keyon-mode)
;;; keyon-mode.el ends here
